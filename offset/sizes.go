package offset

import (
	"context"
	"math"

	"skinstock/mesh"
	"skinstock/offset/removal"
	"skinstock/region"
)

// SizeCheck is a size of the part on the drawing, as printed and as expected
// after the bath. Lengths are mm.
type SizeCheck struct {
	*region.Size
	GrownMM    float64
	FinishedMM float64 // expected after the bath, of mean surfaces
	HalfMM     float64 // half-width of the band in which it falls, with the print's own accuracy
	Kept       string  // masked, stock or partly, when a zone takes its faces
	Band       bool    // HalfMM says something: the recipe states uncertainties
	ITGrade    int     // coarsest ISO 286 grade that the band and what it is off call for; 0 beyond the table
	General    string  // finest ISO 2768-1 class that it keeps; empty for none
}

// foundSizes are the sizes of a mesh.
type foundSizes struct {
	on    *mesh.Mesh
	sizes []region.Size
}

// minSkinShare is the share of a face's area from which a skin counts for its band.
const minSkinShare = 0.1

// sizes measures the sizes of the part.
func (r *Result) sizes(ctx context.Context, job Job) error {
	found := r.found.sizes
	if r.found.on != r.Nominal {
		var err error
		if found, err = region.Sizes(ctx, r.Nominal, r.Topo, job.Workers); err != nil {
			return err
		}
	}
	if len(found) == 0 {
		return nil
	}
	band, err := r.Plan.Tolerance(found[0].MM, nil)
	if err != nil {
		return err
	}
	var pieces [][]int32 // of Grown by facet of Nominal; nil when they are the same
	if r.NominalOf != nil {
		pieces = make([][]int32, len(r.Nominal.Facets))
		for g, f := range r.NominalOf {
			pieces[f] = append(pieces[f], int32(g))
		}
	}
	of := func(facets []int32) []int32 {
		if pieces == nil {
			return facets
		}
		var out []int32
		for _, f := range facets {
			out = append(out, pieces[f]...)
		}
		return out
	}
	for i := range found {
		s := &found[i]
		c := SizeCheck{Size: s}
		var ok bool
		if c.GrownMM, ok = region.MeasureSize(r.Grown, s, of(s.A), of(s.B)); !ok {
			continue
		}
		off := r.loss(s.A)
		if s.Kind == region.BoreSize {
			off *= 2
		} else {
			off += r.loss(s.B)
		}
		if s.Kind == region.WidthSize {
			off = -off
		}
		c.FinishedMM = c.GrownMM + off
		c.HalfMM = r.halfBand(s, band)
		c.Band = c.HalfMM > 0
		c.Kept = r.keptWord(s)
		c.grade()
		r.Sizes = append(r.Sizes, c)
	}
	return nil
}

// loss is how far the mean surface of faces ends inside their printed one, mm:
// what the bath takes, and what stands between the printed size and the mean surface.
func (r *Result) loss(facets []int32) float64 {
	var sum, area float64
	for _, f := range facets {
		a := r.Nominal.FacetArea(int(f))
		area += a
		if r.Masked(int(f)) {
			continue
		}
		p := r.Place(int(f))
		sum += a * (p.TakenUM + p.StandOffUM - p.OversizeUM)
	}
	return sum / max(area, math.SmallestNonzeroFloat64) / umPerMM
}

// halfBand is the half-width of a size's band, mm: root sum of squares of what
// the recipe's uncertainties do to its faces and of the print's accuracy. Masked
// faces only have the latter.
func (r *Result) halfBand(s *region.Size, b *removal.Band) float64 {
	first, second := r.skinsOf(s.A), r.skinsOf(s.B)
	if s.Kind == region.BoreSize {
		second = first
	}
	worst := b.PrintUM
	for _, f := range b.Faces { // one side masked
		if (first[f.Skin] && len(second) == 0) || (second[f.Skin] && len(first) == 0) {
			worst = max(worst, math.Hypot(f.RSSUM, b.PrintUM))
		}
	}
	for _, z := range b.Sizes {
		if first[z.From] && second[z.To] || first[z.To] && second[z.From] {
			worst = max(worst, z.WithPrintUM)
		}
	}
	return worst / umPerMM
}

// skinsOf returns the skins that make up a fair share of faces, masked ones left out.
func (r *Result) skinsOf(facets []int32) map[region.Skin]bool {
	var area [len(region.Skins)]float64
	var all float64
	for _, f := range facets {
		a := r.Nominal.FacetArea(int(f))
		all += a
		if !r.Masked(int(f)) {
			area[r.Sorting.Skin[f]] += a
		}
	}
	out := map[region.Skin]bool{}
	for skin, a := range area {
		if a >= minSkinShare*all && a > 0 {
			out[region.Skin(skin)] = true
		}
	}
	return out
}

// keptWord tells whether zones take the faces of a size.
func (r *Result) keptWord(s *region.Size) string {
	masked, stock, free := false, false, false
	for _, fs := range [][]int32{s.A, s.B} {
		for _, f := range fs {
			switch {
			case r.Masked(int(f)):
				masked = true
			case r.kept(int(f)):
				stock = true
			default:
				free = true
			}
		}
	}
	switch {
	case !masked && !stock:
		return ""
	case free || masked && stock:
		return "partly kept"
	case masked:
		return "masked"
	}
	return "stock to machine"
}

// grade looks the size up in the tables of tolerances: what it is off and the
// band together must lie within.
func (c *SizeCheck) grade() {
	if !c.Band {
		return
	}
	half := math.Abs(c.FinishedMM-c.MM) + c.HalfMM
	c.ITGrade = removal.GradeFor(2*half*umPerMM, c.MM)
	for _, class := range [...]string{"f", "m", "c", "v"} {
		if dev, err := removal.GeneralDeviation(class, c.MM); err == nil && half <= dev {
			c.General = class
			return
		}
	}
}
