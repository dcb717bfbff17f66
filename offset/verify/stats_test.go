package verify

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/region"
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

// The root mean square is about nominal, not about the mean.
func TestTally(t *testing.T) {
	s := newTally()
	s.add(1, 3)
	s.add(-2, 1)
	s.finish()
	near(t, "area", s.Area, 4, 0)
	near(t, "mean", s.Mean, 0.25, 1e-15)
	near(t, "root mean square", s.RMS, math.Sqrt(7.0/4), 1e-15)
}

// All samples count for a skin, those at vertices too, and none for two.
func TestSkinsMakeTheWhole(t *testing.T) {
	n := solid.Icosphere(10, 3)
	g := solid.Icosphere(10.2, 3)
	const v = 77
	g.Vertices[v] = g.Vertices[v].Mul(0.99) // a dent that is deepest at its vertex
	skins := make([]region.Skin, len(n.Facets))
	for f := range skins {
		if n.Centroid(f).Z > 0 {
			skins[f] = region.Downskin
		}
	}
	p := mustVerify(t, n, g, uniform(n, 0.2), Options{Samples: 5000, Skins: skins})
	if p.All.Shortfall.Max.At != n.Vertices[v] {
		t.Fatalf("deepest at %v, not at the vertex", p.All.Shortfall.Max.At)
	}
	samples, area, worst := 0, 0.0, 0.0
	for _, s := range p.BySkin {
		samples, area, worst = samples+s.Samples, area+s.Area, max(worst, s.Shortfall.Max.Value)
	}
	if len(p.BySkin) != 2 || samples != p.All.Samples || worst != p.All.Shortfall.Max.Value {
		t.Errorf("%d skins of %d samples, short by %g; want 2, %d, %g", len(p.BySkin), samples, worst, p.All.Samples, p.All.Shortfall.Max.Value)
	}
	near(t, "area", area, p.All.Area, 1e-9)
}

// At an edge the least and the greatest allowance are of its two facets, at the place
// itself: a quarter of the way from one end the other end has a quarter's say.
func TestAllowancesOnAnEdge(t *testing.T) {
	m := &mesh.Mesh{Vertices: []r3.Vector{{}, {X: 4}, {Y: 4}, {Y: -4}}, Facets: [][3]int32{{0, 1, 2}, {1, 0, 3}}}
	g := &gauge{nominal: m, wanted: mesh.CornerField{{0.1, 0.1, 0.1}, {0.7, 0.3, 0.1}}, near: m.Incidence()}
	h := bvh.New(m, 1).Closest(r3.Vector{X: 1, Z: 1}, bvh.NoHint)
	if h.Feature == bvh.Face {
		t.Fatalf("%v is no place on the edge", h)
	}
	least, most := g.meeting(h)
	near(t, "least on the edge", least, 0.1, 1e-15)
	near(t, "most on the edge", most, 0.75*0.3+0.25*0.7, 1e-15)
}
