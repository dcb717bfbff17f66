package verify

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// A percentile is never below the true one, and above it by a level at most.
func TestQuantileIsNotBelow(t *testing.T) {
	s := shares{top: 100}
	for v := 1.0; v <= 100; v++ {
		s.add(v, 1)
	}
	for _, q := range []float64{0.01, 0.5, 0.95, 0.99, 1} {
		if got, least := s.quantile(q), 100*q; got < least || got > least+s.top/levels {
			t.Errorf("quantile %g of 1 to 100 is %g, want %g to %g", q, got, least, least+s.top/levels)
		}
	}
}

// At an edge the greater allowance of its two facets counts, at the place
// itself: a quarter of the way from one end the other end has a quarter's say.
func TestGreatestAllowanceOnAnEdge(t *testing.T) {
	m := &mesh.Mesh{Vertices: []r3.Vector{{}, {X: 4}, {Y: 4}, {Y: -4}}, Facets: [][3]int32{{0, 1, 2}, {1, 0, 3}}}
	g := &gauge{nominal: m, wanted: mesh.CornerField{{0.1, 0.1, 0.1}, {0.7, 0.3, 0.1}}, near: m.Incidence()}
	h := bvh.New(m, 1).Closest(r3.Vector{X: 1, Z: 1}, bvh.NoHint)
	if h.Feature == bvh.Face {
		t.Fatalf("%v is no place on the edge", h)
	}
	near(t, "allowance on the edge", g.greatest(h), 0.75*0.3+0.25*0.7, 1e-15)
}
