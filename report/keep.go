package report

import (
	"fmt"
	"text/tabwriter"

	"skinstock/offset"
	"skinstock/region"
	"skinstock/report/html"
)

// Keep is one keep zone: faces masked from the bath, or left with stock.
type Keep struct {
	Name      string   `json:"name"`
	Note      string   `json:"note,omitempty"`
	Shape     string   `json:"shape"`     // as the command line takes it
	Treatment string   `json:"treatment"` // mask, or stock and its depth in mm
	StockMM   Number   `json:"stock_mm"`  // 0 for a mask
	Faces     int      `json:"faces"`
	AreaMM2   Number   `json:"area_mm2"`
	Kind      string   `json:"kind"` // plane, bore, shaft or surface
	Nominal   *Measure `json:"nominal,omitempty"`
	Grown     *Measure `json:"grown,omitempty"`
	Datum     *Datum   `json:"datum,omitempty"` // of a masked zone on the grown part

	// The proof on the zone, against 0 where masked and else against its stock.
	ShortfallUM *Number `json:"shortfall_um,omitempty"`
	ExcessUM    *Number `json:"excess_um,omitempty"`
	CoveredMM2  *Number `json:"covered_mm2,omitempty"` // lies under stock of the faces beside it
}

// Measure is a plane or a cylinder by least squares.
type Measure struct {
	At         Point   `json:"at_mm"`
	Axis       Point   `json:"axis"` // of a plane its normal
	DiameterMM *Number `json:"diameter_mm,omitempty"`
	LengthMM   *Number `json:"length_mm,omitempty"`
	FormUM     Number  `json:"form_um"` // flatness, or greatest less least radius
}

// Datum is what became of a masked face.
type Datum struct {
	Unchanged  bool   `json:"unchanged"` // within 1 um
	ShiftUM    Number `json:"shift_um"`
	TiltDeg    Number `json:"tilt_deg"`
	DiameterUM Number `json:"diameter_um"` // larger by
	FormUM     Number `json:"form_um"`     // worse by
	LiftUM     Number `json:"lift_um"`     // farthest corner off the face
	Missing    int    `json:"missing_faces"`
}

// composeKeep lists the zones of a plan, with what was measured when checks is not nil.
func composeKeep(k *region.Kept, checks []offset.KeptCheck, proved bool) []Keep {
	if k == nil {
		return nil
	}
	out := make([]Keep, 0, len(k.Zones))
	for i := range k.Zones {
		z := &k.Zones[i]
		r := Keep{
			Name: z.Label(), Note: z.Note, Shape: z.Shape.String(), Treatment: z.Treatment(), StockMM: Number(z.StockMM),
			Faces: z.Facets, AreaMM2: Number(z.AreaMM2), Kind: z.Kind(), Nominal: measureOf(z.Plane, z.Bore),
		}
		if checks != nil {
			c := checks[i]
			if c.Datum != nil {
				r.addDatum(c.Datum)
			}
			if proved {
				s, e, a := Number(c.Shortfall*umPerMM), Number(c.Excess*umPerMM), Number(c.CoveredMM2)
				r.ShortfallUM, r.ExcessUM, r.CoveredMM2 = &s, &e, &a
			}
		}
		out = append(out, r)
	}
	return out
}

func (r *Keep) addDatum(d *region.Datum) {
	r.Grown = measureOf(d.PlaneAfter, d.BoreAfter)
	r.Datum = &Datum{
		Unchanged: d.Unchanged, ShiftUM: Number(d.ShiftMM * umPerMM), TiltDeg: Number(d.Tilt.Degrees()), DiameterUM: Number(d.LargerMM * umPerMM),
		FormUM: Number(d.FormMM * umPerMM), LiftUM: Number(d.LiftMM * umPerMM), Missing: d.Missing,
	}
}

func measureOf(p *region.PlaneFit, b *region.BoreFit) *Measure {
	switch {
	case p != nil:
		return &Measure{At: PointOf(p.Point), Axis: PointOf(p.Normal), FormUM: Number(p.FlatnessMM * umPerMM)}
	case b != nil:
		d, l := Number(b.DiameterMM), Number(b.LengthMM)
		return &Measure{At: PointOf(b.Middle), Axis: PointOf(b.Axis), DiameterMM: &d, LengthMM: &l, FormUM: Number(b.RoundnessMM * umPerMM)}
	}
	return nil
}

// keepHead heads the table of keep zones.
var keepHead = []string{"keep zone", "face", "area cm2", "treatment", "size and place", "on the grown part", "proof um"}

// cells are the zone as a row of a table.
func (r *Keep) cells() []string {
	return []string{r.Name, r.Kind, sig(float64(r.AreaMM2)/100, 3), r.Treatment, r.Nominal.text(), r.state(), r.proof()}
}

func (m *Measure) text() string {
	if m == nil {
		return ""
	}
	at := "at " + m.At.place()
	if m.DiameterMM == nil {
		return fmt.Sprintf("flat to %s um %s", sig(float64(m.FormUM), 2), at)
	}
	return fmt.Sprintf("Ø %.4f x %s mm, round to %s um %s", float64(*m.DiameterMM), sig(float64(*m.LengthMM), 4), sig(float64(m.FormUM), 2), at)
}

// state says in words what became of the face.
func (r *Keep) state() string {
	d := r.Datum
	switch {
	case d == nil && r.StockMM > 0:
		return "to be machined"
	case d == nil:
		return ""
	case d.Unchanged:
		return "unchanged within 1 um"
	case r.Grown == nil && r.Nominal != nil:
		return "not found"
	}
	s := fmt.Sprintf("CHANGED: shift %s um, tilt %s deg, form %s um, lift %s um", sig(float64(d.ShiftUM), 2), sig(float64(d.TiltDeg), 2), sig(float64(d.FormUM), 2), sig(float64(d.LiftUM), 2))
	if r.Nominal != nil && r.Nominal.DiameterMM != nil {
		s += fmt.Sprintf(", diameter %+.1f um", float64(d.DiameterUM))
	}
	if d.Missing > 0 {
		s += fmt.Sprintf(", %d facets covered", d.Missing)
	}
	return s
}

func (r *Keep) proof() string {
	if r.ShortfallUM == nil {
		return ""
	}
	return fmt.Sprintf("short %s, over %s", um(*r.ShortfallUM), um(*r.ExcessUM))
}

func (t *textWriter) keep(d *Document) {
	if t.err != nil || len(d.Keep) == 0 {
		return
	}
	t.table(keepHead, func(row func(...string)) {
		for i := range d.Keep {
			row(d.Keep[i].cells()...)
		}
	})
}

// table writes a table with its columns flush left, and an empty line.
func (t *textWriter) table(head []string, fill func(row func(...string))) {
	tw := tabwriter.NewWriter(t.w, 0, 0, 2, ' ', 0)
	row := func(cells ...string) {
		for i, c := range cells {
			if i > 0 {
				fmt.Fprint(tw, "\t")
			}
			fmt.Fprint(tw, c)
		}
		fmt.Fprintln(tw)
	}
	row(head...)
	fill(row)
	if t.err = tw.Flush(); t.err == nil {
		t.line("")
	}
}

func keepTable(d *Document) html.Table {
	t := html.Table{
		Title: "Keep zones", Head: keepHead,
		Note: "Masked faces get no stock and the bath does not wet them; kept planes and bores are measured by least squares on the nominal and the grown part. Stock is left for machining after the bath.",
	}
	for i := range d.Keep {
		t.Rows = append(t.Rows, html.Row{Cells: d.Keep[i].cells()})
	}
	return t
}
