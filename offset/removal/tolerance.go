package removal

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// Band is how far finished faces and sizes may be off, from the uncertainties
// that the recipe states. Figures are half-widths in um: the root sum of
// squares is a 95 % band if the stated ones are and are independent, the worst
// case has all of them wrong at once in the worst way.
//
// The allowance is printed and the bath time is set by then, so a face is off
// by what the rate, the stand-off and the oversize turn out to be. Doubts about
// levelling move the finished roughness, not the size.
type Band struct {
	Faces         []FaceBand     `json:"faces"`
	Sizes         []SizeBand     `json:"sizes"`
	Contributions []Contribution `json:"contributions"` // largest first
	PrintUM       float64        `json:"print_um"`      // accuracy of a printed size; 0 when not stated
	Silent        []string       `json:"silent"`        // values with a part in it whose uncertainty is not stated
	Wanted        *Wanted        `json:"wanted,omitempty"`
}

// FaceBand is the band of the faces of one skin.
type FaceBand struct {
	Skin    region.Skin `json:"skin"`
	RSSUM   float64     `json:"rss_um"`
	WorstUM float64     `json:"worst_um"`
}

// SizeBand is the band of a size between two faces. What both faces share, such
// as the rate, adds up; what is their own, adds as root of sum of squares.
type SizeBand struct {
	From         region.Skin `json:"from"`
	To           region.Skin `json:"to"`
	RSSUM        float64     `json:"rss_um"`
	WorstUM      float64     `json:"worst_um"`
	WithPrintUM  float64     `json:"with_print_um"`       // root sum of squares with the print's own accuracy
	WorstPrintUM float64     `json:"worst_with_print_um"` // worst case with it
	Verdict      Verdict     `json:"verdict,omitempty"`   // against the wanted tolerance
	ITGrade      int         `json:"it_grade,omitempty"`  // coarsest ISO 286 grade that WithPrintUM needs, 0 when beyond the table
}

// Verdict compares a band with a tolerance.
type Verdict string

// Verdicts. All include the print's own accuracy when the recipe states it.
const (
	Inside   Verdict = "inside"   // even the worst case keeps the tolerance
	Likely   Verdict = "likely"   // the root sum of squares keeps it, the worst case does not
	Exceeded Verdict = "exceeded" // the root sum of squares does not keep it
)

// Contribution is what one value's uncertainty does to the faces.
type Contribution struct {
	Path        string        `json:"path"`
	Unit        string        `json:"unit"`
	Value       float64       `json:"value"`
	Uncertainty float64       `json:"uncertainty"`
	Source      recipe.Source `json:"source"`
	FaceUM      []float64     `json:"face_um"` // by skin as in Band.Faces; positive when a higher value leaves the face proud
}

// Tolerance returns the band of finished size. sizeMM is the size for which
// the ISO 286 grade is looked up; wanted may be nil.
func (p *Plan) Tolerance(sizeMM float64, wanted *Wanted) (*Band, error) {
	b := &Band{Wanted: wanted, PrintUM: p.Recipe.Print.AccuracyUM.Or(0), Silent: []string{}, Contributions: []Contribution{}}
	trial := p.Recipe.Trial()
	for _, v := range p.Recipe.Values() {
		if strings.HasPrefix(v.Path, "geometry.") || strings.HasPrefix(v.Path, "screen.") {
			continue
		}
		step := v.Uncertainty
		if step == 0 {
			step = 1e-3 * math.Max(math.Abs(v.Value), 1)
		}
		face, err := p.faceShift(trial, v, step)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(face, func(x float64) bool { return math.Abs(x) > 1e-9 }) {
			continue
		}
		if v.Uncertainty == 0 {
			b.Silent = append(b.Silent, v.Path)
			continue
		}
		b.Contributions = append(b.Contributions, Contribution{v.Path, v.Unit, v.Value, v.Uncertainty, v.Source, face})
	}
	slices.SortStableFunc(b.Contributions, func(x, y Contribution) int { return cmp.Compare(largest(y.FaceUM), largest(x.FaceUM)) })
	p.addBands(b, sizeMM)
	return b, nil
}

func largest(xs []float64) float64 {
	var m float64
	for _, x := range xs {
		m = math.Max(m, math.Abs(x))
	}
	return m
}

// addBands sums the contributions for faces and for sizes.
func (p *Plan) addBands(b *Band, sizeMM float64) {
	for i, s := range p.Skins {
		rss, worst := b.sum(func(c Contribution) float64 { return c.FaceUM[i] })
		b.Faces = append(b.Faces, FaceBand{s.Skin, rss, worst})
		for j := i; j < len(p.Skins); j++ {
			z := SizeBand{From: s.Skin, To: p.Skins[j].Skin}
			z.RSSUM, z.WorstUM = b.sum(func(c Contribution) float64 { return c.FaceUM[i] + c.FaceUM[j] })
			z.WithPrintUM, z.WorstPrintUM = math.Hypot(z.RSSUM, b.PrintUM), z.WorstUM+b.PrintUM
			z.ITGrade = GradeFor(2*z.WithPrintUM, sizeMM)
			if b.Wanted != nil {
				z.Verdict = verdict(z, b.Wanted.HalfUM)
			}
			b.Sizes = append(b.Sizes, z)
		}
	}
}

func (b *Band) sum(of func(Contribution) float64) (rss, worst float64) {
	for _, c := range b.Contributions {
		x := of(c)
		rss += float64(x * x)
		worst += math.Abs(x)
	}
	return math.Sqrt(rss), worst
}

func verdict(z SizeBand, half float64) Verdict {
	switch {
	case z.WorstPrintUM <= half:
		return Inside
	case z.WithPrintUM <= half:
		return Likely
	}
	return Exceeded
}

// GradeFor returns the finest ISO 286 grade whose zone holds a width in um, 0 when none of the table does.
func GradeFor(widthUM, sizeMM float64) int {
	for it := 5; it <= 14; it++ {
		w, err := ITWidth(it, sizeMM)
		if err != nil {
			return 0
		}
		if widthUM <= w {
			return it
		}
	}
	return 0
}

// faceShift returns how far the faces of each skin end outside the planned
// surface when a value is higher by a step than the recipe says: half the
// difference between higher and lower.
func (p *Plan) faceShift(trial *recipe.Trial, v recipe.Named, step float64) ([]float64, error) {
	out := make([]float64, len(p.Skins))
	lo, hi := trial.Bounds(v.Path)
	defer trial.Set(v.Path, v.Value)
	up, down := math.Min(v.Value+step, hi), math.Max(v.Value-step, lo)
	if down <= 0 && lo == 0 {
		down = math.Min(v.Value, 1e-9) // bounds that are open at 0
	}
	for _, side := range []struct{ value, sign float64 }{{up, 1}, {down, -1}} {
		if !trial.Set(v.Path, side.value) {
			return out, nil
		}
		end, err := p.endWith(trial.Recipe)
		if err != nil {
			return nil, err
		}
		for i := range out {
			// Scaled to the full step where a bound cut it short.
			out[i] += side.sign * end[i] * step / (up - down)
		}
	}
	return out, nil
}

// endWith returns where the mean surface of each skin ends, in um outside the
// nominal one, when the truth is another recipe but allowance and times are this plan's.
func (p *Plan) endWith(r *recipe.Recipe) ([]float64, error) {
	q := &Plan{Recipe: r, Part: p.Part, opt: p.opt}
	var err error
	if q.rough, err = roughnessOf(r, p.opt); err != nil {
		return nil, err
	}
	if q.proc, err = newProcessUnchecked(r); err != nil {
		return nil, err
	}
	out := make([]float64, len(p.Skins))
	for i, s := range p.Skins {
		var area float64
		for _, a := range p.Part.Areas {
			if a.Skin != s.Skin || a.AreaMM2 == 0 {
				continue
			}
			area += a.AreaMM2
			out[i] += float64(a.AreaMM2 * p.endAt(q, a))
		}
		out[i] /= area
	}
	return out, nil
}

// endAt is endWith for one piece of surface.
func (p *Plan) endAt(truth *Plan, a Area) float64 {
	deg, f := angle(a.Skin, a.Theta), p.factor(a.Skin).Mean
	planned := p.place(a.Skin, deg, f)
	run := p.shared
	if run == nil {
		run = p.proc.runTo(planned.CalledForUM / f)
	}
	var taken float64
	for i, t := range run.time {
		taken += float64(t * truth.proc.stages[i].rate * f)
	}
	s := truth.rough.At(a.Skin, deg)
	end := planned.AllowanceUM - taken + s.OversizeUM
	if truth.Recipe.Print.SizeDatum != recipe.DatumMean {
		end -= s.RpUM
	}
	return end
}
