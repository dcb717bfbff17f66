package report

import (
	"fmt"
	"math"
	"path/filepath"

	"skinstock/offset"
	"skinstock/region"
	"skinstock/region/orient"
	"skinstock/region/screen"
	"skinstock/report/html"
	"skinstock/report/sheet"
)

// Direction is one ranked build direction. Areas are of the nominal part.
type Direction struct {
	BuildDir    Point  `json:"build_dir"`
	Score       Number `json:"score"` // lower is better
	DownskinMM2 Number `json:"downskin_mm2"`
	TimeMin     Number `json:"time_min"`
	HeightMM    Number `json:"height_mm"`

	RemovalUM   Number    `json:"removal_um"` // called for by the skin that sets the time
	GovernedBy  string    `json:"governed_by"`
	AddedG      Number    `json:"added_g"`                    // stock, before the slope rule
	FlatMM2     Number    `json:"unsupported_mm2"`            // downskin flatter than builds without supports
	DownMM2     []Number  `json:"down_by_inclination_mm2"`    // facing down, by steps of inclination to the platform from 0
	FootprintMM [2]Number `json:"footprint_mm"`               // smallest rectangle, longer side first
	Fits        *bool     `json:"fits_build_space,omitempty"` // absent when no build space was given
	Unfit       string    `json:"unfit,omitempty"`            // why the process cannot treat the part so
	Exact       bool      `json:"on_real_mesh"`               // false: by the histogram of normals
	GasPockets  *Pocketed `json:"pockets_upright,omitempty"`  // when looked for
	StepDeg     Number    `json:"inclination_step_deg"`       // of down_by_inclination_mm2
}

// Pocketed sums up what holds gas or liquid when the part hangs as it was built.
type Pocketed struct {
	Gas       int    `json:"gas"`
	GasMM3    Number `json:"gas_mm3"`
	Liquid    int    `json:"liquid"`
	LiquidMM3 Number `json:"liquid_mm3"`
}

// Orientation is what ranking build directions found beside the best ones.
type Orientation struct {
	Tried        int         `json:"directions_tried"`
	CriticalDeg  Number      `json:"self_supporting_deg"`
	BuildSpaceMM *[3]Number  `json:"build_space_mm,omitempty"`
	Weights      Weights     `json:"weights"`
	Current      *Direction  `json:"current,omitempty"`
	Pareto       []Direction `json:"pareto"` // no direction tried is both quicker and lower; by time
	Chosen       bool        `json:"chosen"` // build_dir is the best one found
}

// Weights are what each share counts in a score.
type Weights struct {
	Time        Number `json:"time"`
	Added       Number `json:"added"`
	Downskin    Number `json:"downskin"`
	Unsupported Number `json:"unsupported"`
	Height      Number `json:"height"`
}

// ComposeOrient returns the document of a ranking; the job is the one it was
// made with. pockets are by direction, the current one last, or nil.
func ComposeOrient(version string, pl *offset.Planned, job offset.Job, pockets [][]screen.Pocket) *Document {
	d := &Document{
		Schema: Schema, Tool: Tool{Name: ToolName, Version: version}, Command: "orient",
		Input: composeInput(pl.Part), BuildDir: PointOf(pl.BuildDir), Recipe: composeRecipe(job.Recipe), Skins: []Skin{},
		Findings: Findings(pl.Findings), Cautions: Cautions, Keep: composeKeep(pl.Kept, nil, false),
	}
	d.addDirections(pl, job.Recipe.Material.DensityGPerCM3.Value)
	if r := pl.Chosen.Current; r != nil {
		d.BuildDir, d.Orientation.Chosen = PointOf(r.Dir), false
	}
	for i, ps := range pockets {
		p := pocketed(ps)
		if i < len(d.Directions) {
			d.Directions[i].GasPockets = p
		} else if d.Orientation.Current != nil {
			d.Orientation.Current.GasPockets = p
		}
	}
	return d
}

func pocketed(ps []screen.Pocket) *Pocketed {
	p := &Pocketed{}
	for _, q := range ps {
		if q.Kind == screen.GasPocket {
			p.Gas++
			p.GasMM3 += Number(q.VolumeMM3)
		} else {
			p.Liquid++
			p.LiquidMM3 += Number(q.VolumeMM3)
		}
	}
	return p
}

// addDirections puts a ranking into the document.
func (d *Document) addDirections(pl *offset.Planned, density float64) {
	r := pl.Chosen
	if r == nil {
		return
	}
	bounded := r.EnvelopeMM != [3]float64{}
	list := func(cs []orient.Candidate) []Direction {
		out := make([]Direction, 0, len(cs))
		for i := range cs {
			out = append(out, composeDirection(&cs[i], density, bounded))
		}
		return out
	}
	w := r.Weights
	d.Directions = list(r.Best)
	d.Orientation = &Orientation{
		Tried: len(r.Sampled), CriticalDeg: Number(r.Critical.Degrees()), Pareto: list(r.Pareto), Chosen: true,
		Weights: Weights{Number(w.Time), Number(w.Added), Number(w.Downskin), Number(w.Flat), Number(w.Height)},
	}
	if bounded {
		e := r.EnvelopeMM
		d.Orientation.BuildSpaceMM = &[3]Number{Number(e[0]), Number(e[1]), Number(e[2])}
	}
	if r.Current != nil {
		c := composeDirection(r.Current, density, bounded)
		d.Orientation.Current = &c
	}
}

func composeDirection(c *orient.Candidate, density float64, bounded bool) Direction {
	out := Direction{
		BuildDir: PointOf(c.Dir), Score: Number(c.Score), DownskinMM2: Number(c.Tally.AreaMM2[region.Downskin]), TimeMin: Number(c.Cost.TimeMin),
		HeightMM: Number(c.Tally.HeightMM), RemovalUM: Number(c.Cost.RemovalUM), GovernedBy: c.Cost.Governs,
		AddedG: Number(c.Cost.AddedMM3 / 1000 * density), FlatMM2: Number(c.Tally.FlatMM2), StepDeg: 90.0 / orient.Bins,
		FootprintMM: [2]Number{Number(c.FootprintMM[0]), Number(c.FootprintMM[1])}, Unfit: c.Unfit, Exact: c.Exact,
	}
	for _, a := range c.Tally.DownMM2 {
		out.DownMM2 = append(out.DownMM2, Number(a))
	}
	if bounded {
		fits := c.Fits
		out.Fits = &fits
	}
	return out
}

var directionHead = []string{"", "direction", "score", "downskin cm2", "unsupported cm2", "removal um", "bath min", "stock g", "height mm", "footprint mm", ""}

func (d *Direction) cells(name string) []string {
	note := ""
	switch {
	case d.Unfit != "":
		note = "cannot be treated"
	case d.Fits != nil && !*d.Fits:
		note = "too large so"
	}
	if p := d.GasPockets; p != nil && p.Gas+p.Liquid > 0 {
		note += fmt.Sprintf(" holds gas in %s, liquid in %s", plural(p.Gas, "pocket", "pockets"), plural(p.Liquid, "pocket", "pockets"))
	}
	return []string{
		name, d.BuildDir.text(), sig(float64(d.Score), 3), sig(float64(d.DownskinMM2)/100, 3), sig(float64(d.FlatMM2)/100, 3),
		fixed(d.RemovalUM), sig(float64(d.TimeMin), 3), sig(float64(d.AddedG), 3), sig(float64(d.HeightMM), 4),
		sig(float64(d.FootprintMM[0]), 4) + " x " + sig(float64(d.FootprintMM[1]), 4), note,
	}
}

// text writes a direction as --build-dir takes it.
func (p Point) text() string {
	n := func(v Number) string { return sig(math.Round(float64(v)*1e4)/1e4+0, 4) }
	return n(p[0]) + "," + n(p[1]) + "," + n(p[2])
}

// directionTable lists the directions that a chosen one was the best of.
func directionTable(d *Document) html.Table {
	t := html.Table{Title: "Build directions", Head: directionHead, Note: "The best is the one planned for. Scores rest on the recipe's values and assumed weights; lower is better."}
	for i := range d.Directions {
		t.Rows = append(t.Rows, html.Row{Cells: d.Directions[i].cells(fmt.Sprint(i + 1)), Assumed: len(d.Recipe.Assumed) > 0})
	}
	return t
}

// textPareto is how many rows of time against height the terminal shows.
const textPareto = 8

func (t *textWriter) directions(d *Document) {
	o := d.Orientation
	if o == nil || t.err != nil {
		return
	}
	if o.Chosen && d.Command != "orient" {
		t.row("chosen", "the build direction %s is the best of %s tried; files stay as the part lies, and orient --apply turns it", d.BuildDir.text(), grouped(o.Tried))
		t.line("")
		return
	}
	t.table(directionHead, func(row func(...string)) {
		if o.Current != nil {
			row(o.Current.cells("current")...)
		}
		for i := range d.Directions {
			row(d.Directions[i].cells(fmt.Sprint(i + 1))...)
		}
	})
	t.table([]string{"time against height: no direction is both quicker and lower", "bath min", "height mm", "downskin cm2", "score"}, func(row func(...string)) {
		for _, i := range thinned(len(o.Pareto), textPareto) {
			p := &o.Pareto[i]
			row("  "+p.BuildDir.text(), sig(float64(p.TimeMin), 3), sig(float64(p.HeightMM), 4), sig(float64(p.DownskinMM2)/100, 3), sig(float64(p.Score), 3))
		}
	})
	t.row("tried", "%s directions, the %d best on the real mesh; unsupported: downskin flatter than %s degrees, an assumed limit", grouped(o.Tried), len(d.Directions), sig(float64(o.CriticalDeg), 3))
	t.row("score", "time x %g + stock x %g + downskin x %g + unsupported x %g + height x %g, each as a share of the worst direction", o.Weights.Time, o.Weights.Added, o.Weights.Downskin, o.Weights.Unsupported, o.Weights.Height)
	if o.BuildSpaceMM != nil {
		t.row("machine", "build space %s x %s x %s mm", sig(float64(o.BuildSpaceMM[0]), 4), sig(float64(o.BuildSpaceMM[1]), 4), sig(float64(o.BuildSpaceMM[2]), 4))
	}
}

// thinned returns up to most of the numbers below n, first and last among them.
func thinned(n, most int) []int {
	if n <= most {
		most = n
	}
	out := make([]int, 0, most)
	for i := range most {
		out = append(out, i*(n-1)/max(most-1, 1))
	}
	return out
}

// DirectionMap returns the map of a ranking's score over the sphere.
func DirectionMap(pl *offset.Planned, d *Document) *sheet.SphereMap {
	m := &sheet.SphereMap{Part: filepath.Base(pl.Part.Name), Recipe: d.Recipe.Name, Assumed: len(d.Recipe.Assumed) > 0}
	for _, c := range pl.Chosen.Sampled {
		s := c.Score
		if c.Unfit != "" || !c.Fits {
			s = math.NaN()
		}
		m.Dirs, m.Scores = append(m.Dirs, c.Dir), append(m.Scores, s)
	}
	if c := d.Orientation.Current; c != nil {
		m.Marks = append(m.Marks, sheet.SphereMark{Dir: c.BuildDir.Vector(), Note: "current " + c.BuildDir.text() + ", score " + sig(float64(c.Score), 3)})
	}
	for i, c := range d.Directions {
		m.Marks = append(m.Marks, sheet.SphereMark{Dir: c.BuildDir.Vector(), Text: fmt.Sprint(i + 1), Note: c.BuildDir.text() + ", score " + sig(float64(c.Score), 3)})
	}
	return m
}
