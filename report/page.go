package report

import (
	"fmt"
	"iter"
	"path/filepath"
	"strings"

	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/report/chart"
	"skinstock/report/html"
)

// ComposePage maps a grown part and its document onto the report page. The
// pictures are added by html.Page.AddPictures, the files' names by PageFiles.
func ComposePage(res *offset.Result, doc *Document) (*html.Page, error) {
	p := &html.Page{
		Part: filepath.Base(res.Part.Name), Recipe: doc.Recipe.Name, Version: doc.Tool.Version,
		Summary: fmt.Sprintf("Grown by %s to %s µm, what the bath is expected to take and what stands off the surface as printed; the proof measured %s samples.",
			allowanceEnd(doc, true), allowanceEnd(doc, false), samplesOf(doc)),
		Verdict:  VerdictOf(doc),
		Figures:  figuresOf(doc),
		Cautions: doc.Cautions,
	}
	numbers := PinNumbers(doc.Findings)
	for i, f := range doc.Findings {
		p.Findings = append(p.Findings, findingRow(f, numbers[i]))
	}
	p.Tables = append(p.Tables, skinTable(doc))
	if len(doc.Keep) > 0 {
		p.Tables = append(p.Tables, keepTable(doc))
	}
	if len(doc.Sizes) > 0 {
		p.Tables = append(p.Tables, sizeTable(doc))
	}
	if f := doc.Field; f != nil && f.Loop != nil {
		p.Tables = append(p.Tables, finishTable(f.Loop))
	}
	for _, g := range res.Plan.Sheet().Groups {
		t := html.Table{Title: "Bath sheet: " + g.Title, Head: []string{"what", "value", "how it comes about", "source"}}
		for _, l := range g.Lines {
			t.Rows = append(t.Rows, html.Row{Cells: []string{l.Label, sig(l.Value, 4) + " " + l.Unit, l.How, sourceMark(l.Source)}, Assumed: l.Source == recipe.Assumed})
		}
		p.Tables = append(p.Tables, t)
	}
	p.Tables = append(p.Tables, recipeTable(res.Plan.Recipe))
	if t := solidTable(doc); len(t.Rows) > 0 {
		p.Tables = append(p.Tables, t)
	}
	if res.Chosen != nil {
		p.Tables = append(p.Tables, directionTable(doc))
		d, err := DirectionMap(res.Planned, doc).Drawing()
		if err != nil {
			return nil, err
		}
		p.Sections = append(p.Sections, html.Drawing{Title: "Score of build directions", SVG: d.SVG("directions")})
	}
	charts, err := chartsOf(res)
	p.Charts = charts
	return p, err
}

// PageFiles lists the files that a report rests on, with their digests.
func PageFiles(d *Document) []html.File {
	fs := []html.File{{Role: "part", Name: d.Input.File, SHA256: d.Input.SHA256}}
	if d.Output != nil {
		fs = append(fs, html.File{Role: "grown part", Name: d.Output.File, SHA256: d.Output.SHA256})
	}
	return append(fs, html.File{Role: "recipe", Name: d.Recipe.File, SHA256: d.Recipe.SHA256})
}

func samplesOf(d *Document) string {
	if d.Verify == nil {
		return "no"
	}
	return grouped(d.Verify.Samples)
}

// allowanceEnd is the least or the largest allowance of any skin.
func allowanceEnd(d *Document, least bool) string {
	v := d.Skins[0].AllowanceUM.Max
	if least {
		v = d.Skins[0].AllowanceUM.Min
	}
	for _, s := range d.Skins {
		if least {
			v = min(v, s.AllowanceUM.Min)
		} else {
			v = max(v, s.AllowanceUM.Max)
		}
	}
	return fixed(v)
}

func figuresOf(d *Document) []html.Figure {
	assumed := len(d.Recipe.Assumed) > 0
	fs := []html.Figure{
		{Label: "allowance", Value: allowanceEnd(d, true) + " to " + allowanceEnd(d, false), Unit: "µm", Assumed: assumed},
		{Label: "bath time", Value: sig(float64(d.Bath.TimeMin), 3), Unit: "min", Note: "set by the " + d.Bath.GovernedBy, Assumed: assumed},
		{Label: "stock added", Value: sig(float64(d.Bath.MassAddedG), 3), Unit: "g", Assumed: assumed},
		{Label: "metal taken off", Value: sig(float64(d.Bath.MassRemovedG), 3), Unit: "g", Assumed: assumed},
	}
	if d.Bath.CurrentA > 0 {
		fs = append(fs, html.Figure{Label: "current", Value: sig(float64(d.Bath.CurrentA), 3), Unit: "A", Assumed: assumed})
	}
	if v := d.Verify; v != nil {
		fs = append(fs,
			html.Figure{Label: "stock short by at most", Value: sig(float64(v.ShortfallUM.Max), 3), Unit: "µm", Note: fmt.Sprintf("99 %% of the area: %s µm", sig(float64(v.ShortfallUM.P99), 3))},
			html.Figure{Label: "stock over by at most", Value: sig(float64(v.ExcessUM.Max), 3), Unit: "µm", Note: fmt.Sprintf("99 %% of the area: %s µm", sig(float64(v.ExcessUM.P99), 3))})
	}
	return fs
}

func findingRow(f Finding, number int) html.Finding {
	row := html.Finding{Number: number, Level: levels[f.Severity], Code: f.Code, Message: f.Message, Remedy: f.Remedy, Count: f.Count}
	if f.AtMM != nil {
		row.At = fmt.Sprintf("%s, %s, %s mm", sig(float64(f.AtMM[0]), 4), sig(float64(f.AtMM[1]), 4), sig(float64(f.AtMM[2]), 4))
	}
	if f.SizeMM > 0 {
		row.Siz = sig(float64(f.SizeMM), 3) + " mm"
	}
	return row
}

func skinTable(d *Document) html.Table {
	t := html.Table{Title: "Skins", Head: []string{"skin", "area, cm²", "Ra printed, µm", "called for, µm", "taken, µm", "stand-off, µm", "allowance, µm", "Ra finished, µm"}}
	for _, s := range d.Skins {
		t.Rows = append(t.Rows, html.Row{Assumed: len(d.Recipe.Assumed) > 0, Cells: []string{
			s.Skin.String(), sig(float64(s.AreaMM2)/100, 4), fixed(s.RaUM), fixed(s.CalledForUM), fixed(s.TakenUM), fixed(s.StandoffUM),
			s.AllowanceUM.text(), sig(float64(s.FinishedRaUM), 2),
		}})
	}
	return t
}

// finishTable is the predicted finish by skin.
func finishTable(l *Loop) html.Table {
	t := html.Table{
		Title: "Predicted finish off nominal, away from sharp edges",
		Note:  "Sharp edges: " + strings.ReplaceAll(l.edges(), " um", " µm") + ".",
		Head:  []string{"skin", "area, cm²", "beside edges, cm²", "mean, µm", "95 % within, µm", "worst, µm", "same stock everywhere, 95 % within, µm"},
	}
	for _, s := range l.Skins {
		t.Rows = append(t.Rows, html.Row{Cells: []string{
			s.Skin, sig(float64(s.AreaMM2)/100, 4), sig(float64(s.BesideMM2)/100, 3), fmt.Sprintf("%+.1f", float64(s.Mean)), fixed(s.P95), fixed(s.Max), fixed(*s.UniformP95),
		}})
	}
	return t
}

// solidTable lists the solids that the file names; a file of one nameless solid has none.
func solidTable(d *Document) html.Table {
	t := html.Table{Title: "Solids of the file", Head: []string{"name", "facets"}}
	for _, s := range d.Input.Solids {
		name := s.Name
		if name == "" {
			name = "(nameless)"
		}
		t.Rows = append(t.Rows, html.Row{Cells: []string{name, grouped(s.Facets)}})
	}
	return t
}

func recipeTable(r *recipe.Recipe) html.Table {
	t := html.Table{Title: "Recipe " + r.Name, Note: "Where every value comes from; assumed ones were not measured on your machine and bath.", Head: []string{"key", "value", "what it is", "source"}}
	for _, v := range r.Values() {
		src := string(v.Source)
		if v.By != "" {
			src += ": " + v.By
		}
		t.Rows = append(t.Rows, html.Row{Assumed: v.Source == recipe.Assumed, Cells: []string{v.Path, sig(v.Value, 6) + " " + v.Unit, v.Doc, src}})
	}
	return t
}

// chartsOf draws the charts of a result; the proof's only when there is one.
func chartsOf(res *offset.Result) ([]*chart.Chart, error) {
	areas := make([]float64, len(res.Nominal.Facets)) // mm2
	for f := range areas {
		areas[f] = res.Nominal.FacetArea(f)
	}
	by := func(mm func(f int) float64) iter.Seq[chart.Patch] {
		return func(yield func(chart.Patch) bool) {
			for f, a := range areas {
				if !yield(chart.Patch{
					Skin: res.Sorting.Skin[f], AreaMM2: a, ThetaDeg: inclination(res.Sorting.Inclination[f]), Value: mm(f) * umPerMM,
				}) {
					return
				}
			}
		}
	}
	allowance := by(func(f int) float64 { c := res.Allowance[f]; return (c[0] + c[1] + c[2]) / 3 })
	var rough []chart.Roughness
	for _, s := range res.Plan.Skins {
		rough = append(rough, chart.Roughness{Skin: s.Skin, BeforeUM: s.RaUM, After: s.FinishedRaUM})
	}
	var out []*chart.Chart
	var first error
	add := func(c *chart.Chart, err error) {
		if err != nil && first == nil {
			first = err
		}
		if c != nil {
			out = append(out, c)
		}
	}
	add(chart.AllowanceByArea(allowance))
	if res.Proof != nil {
		add(chart.DeviationHistogram(by(func(f int) float64 { return res.Proof.FacetDeviation[f] })))
	}
	if res.Closed != nil {
		add(chart.FinishHistogram(by(func(f int) float64 { return res.Closed.SignedMM[f] })))
	}
	add(chart.RoughnessBeforeAfter(rough, res.Plan.Recipe.Finish.TargetRaUM.Value))
	add(chart.Orientation(allowance, roughnessCurves(res)))
	add(chart.Tilt(tiltCurves(res.Nominal, res.BuildDir, res.Plan.Recipe.Geometry.VerticalFromDeg.Value)))
	return out, first
}
