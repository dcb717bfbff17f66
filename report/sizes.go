package report

import (
	"fmt"
	"math"

	"skinstock/offset"
	"skinstock/report/html"
)

// Size is a bore or a pair of parallel planes: in CAD, as printed, and as
// expected after the bath, of mean surfaces.
type Size struct {
	Kind       string  `json:"kind"` // bore, width or gap
	At         Point   `json:"at_mm"`
	Axis       Point   `json:"axis"` // of a bore; of planes their normal
	CADMM      Number  `json:"cad_mm"`
	GrownMM    Number  `json:"grown_mm"`
	FinishedMM Number  `json:"finished_mm"`
	HalfMM     *Number `json:"band_mm,omitempty"`       // plus and minus, with the print's own accuracy; absent when the recipe states no uncertainty
	ITGrade    int     `json:"it_grade,omitempty"`      // ISO 286 grade that holds band and deviation
	General    string  `json:"general_class,omitempty"` // ISO 2768-1 class that holds them
	Kept       string  `json:"kept,omitempty"`          // masked, stock to machine or partly kept
}

func composeSizes(cs []offset.SizeCheck) []Size {
	var out []Size
	for _, c := range cs {
		s := Size{
			Kind: string(c.Kind), At: PointOf(c.At), Axis: PointOf(c.Axis), CADMM: Number(c.MM), GrownMM: Number(c.GrownMM),
			FinishedMM: Number(c.FinishedMM), ITGrade: c.ITGrade, General: c.General, Kept: c.Kept,
		}
		if c.Band {
			h := Number(c.HalfMM)
			s.HalfMM = &h
		}
		out = append(out, s)
	}
	return out
}

// place writes a place in mm to a micrometre at most.
func (p Point) place() string {
	n := func(v Number) string { return sig(math.Round(float64(v)*1e3)/1e3+0, 4) }
	return n(p[0]) + ", " + n(p[1]) + ", " + n(p[2])
}

var sizeHead = []string{"size", "at mm", "CAD mm", "printed mm", "after the bath mm", "band mm", "holds", ""}

func (s *Size) cells() []string {
	name := "bore Ø"
	if s.Kind != "bore" {
		name = s.Kind + " along " + s.Axis.along()
	}
	band, holds := "not stated", ""
	if s.HalfMM != nil {
		band = fmt.Sprintf("± %.3f", float64(*s.HalfMM))
		switch {
		case s.General != "" && s.ITGrade > 0:
			holds = fmt.Sprintf("ISO 2768-%s, IT%d", s.General, s.ITGrade)
		case s.General != "":
			holds = "ISO 2768-" + s.General
		case s.ITGrade > 0:
			holds = fmt.Sprintf("IT%d", s.ITGrade)
		default:
			holds = "none of the tables"
		}
	}
	finished := fmt.Sprintf("%.3f", float64(s.FinishedMM))
	if s.FinishedMM <= 0 {
		finished, band, holds = "nothing left", "", "" // the bath takes more than is there
	}
	return []string{
		name, s.At.place(), fmt.Sprintf("%.3f", float64(s.CADMM)), fmt.Sprintf("%.3f", float64(s.GrownMM)), finished, band, holds, s.Kept,
	}
}

// along names a direction: an axis of the file by its letter.
func (p Point) along() string {
	for k, axis := range [...]string{"x", "y", "z"} {
		if math.Abs(float64(p[k])) > 1-1e-9 {
			return axis
		}
	}
	return p.place()
}

// sizeNote says what the table of sizes rests on.
const sizeNote = "Of mean surfaces. The band is the root sum of squares of the recipe's stated uncertainties and the print's accuracy, assumed unless measured; for planning, never a release."

// textSizes is how many sizes the summary prints.
const textSizes = 8

func (t *textWriter) sizes(d *Document) {
	if t.err != nil || len(d.Sizes) == 0 {
		return
	}
	t.table(sizeHead, func(row func(...string)) {
		for i := range d.Sizes[:min(len(d.Sizes), textSizes)] {
			row(d.Sizes[i].cells()...)
		}
		if n := len(d.Sizes) - textSizes; n > 0 {
			row(fmt.Sprintf("... and %d more in the JSON report", n))
		}
	})
}

func sizeTable(d *Document) html.Table {
	t := html.Table{Title: "Stock to size", Head: sizeHead, Note: sizeNote}
	for i := range d.Sizes {
		t.Rows = append(t.Rows, html.Row{Cells: d.Sizes[i].cells(), Assumed: d.Sizes[i].HalfMM != nil && len(d.Recipe.Assumed) > 0})
	}
	return t
}
