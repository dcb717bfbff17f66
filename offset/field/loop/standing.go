package loop

import (
	"math"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/offset/field"
)

// Standing is the predicted finish of a grown surface that shares no facets with
// nominal, by facet of the grown one.
type Standing struct {
	Nominal []int32   // nearest facet of nominal
	OffMM   []float64 // predicted deviation from nominal, positive where metal is left
	AreaMM2 []float64 // of the grown facet
	Beside  []bool    // within reach of a sharp edge of nominal
}

// Stand predicts the finish of grown, of which r is the field, and final that of
// nominal, where the bath ends: what stands above nominal, by distance, less what the bath takes
// there, at the mean of both fields, less what goes another way, beyondMM by facet
// of nominal, mm. Insulated facets are left out, with no area.
func Stand(nominal, grown *mesh.Mesh, r, final *field.Result, removalMM float64, beyondMM func(f int) float64, workers int) *Standing {
	j := newJudge(nominal, removalMM, workers)
	n := len(grown.Facets)
	s := &Standing{Nominal: make([]int32, n), OffMM: make([]float64, n), AreaMM2: make([]float64, n), Beside: make([]bool, n)}
	calm := func(m *mesh.Mesh, r *field.Result) []float64 {
		in := m.Incidence()
		return even(m, in, even(m, in, r.PerFacet, r.Insulated), r.Insulated)
	}
	first, last := calm(grown, r), calm(nominal, final)
	hint := bvh.NoHint
	for f := range grown.Facets {
		if r.Insulated != nil && r.Insulated[f] {
			continue
		}
		p := grown.Centroid(f)
		h := j.tree.Closest(p, hint)
		hint = h.Facet
		height := math.Copysign(h.Dist, p.Sub(h.Point).Dot(nominal.FacetNormal(h.Facet)))
		s.Nominal[f], s.Beside[f], s.AreaMM2[f] = int32(h.Facet), j.beside[h.Facet], grown.FacetArea(f)
		s.OffMM[f] = height - removalMM*(first[f]+last[h.Facet])/2 - beyondMM(h.Facet)
	}
	return s
}

// Over sums the finish up over the facets whose place on nominal in picks, those
// beside sharp edges left out.
func (s *Standing) Over(in func(nominal int) bool) Away {
	var a Away
	var ws []weighted
	for f, e := range s.OffMM {
		switch {
		case !in(int(s.Nominal[f])):
		case s.Beside[f]:
			a.BesideMM2 += s.AreaMM2[f]
		default:
			ws = append(ws, weighted{math.Abs(e), s.AreaMM2[f]})
			a.AreaMM2 += s.AreaMM2[f]
			a.Mean += e * s.AreaMM2[f]
		}
	}
	if a.AreaMM2 > 0 {
		a.Mean /= a.AreaMM2
	}
	a.P95, a.Max = quantile(ws, 0.95)
	return a
}
