package verify

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Whether the stock steps on an edge is asked at the same ends of it on both sides.
func TestStepAcrossAnEdge(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 1}, {X: 0.5, Y: 1}, {X: 0.5, Y: -1}},
		Facets:   [][3]int32{{0, 1, 2}, {1, 0, 3}},
	}
	if step(m, mesh.CornerField{{0.1, 0.2, 0.3}, {0.2, 0.1, 0.3}}, 0, 0, 3) {
		t.Error("a step where both sides ask for the same")
	}
	if !step(m, mesh.CornerField{{0.1, 0.2, 0.3}, {0.1, 0.2, 0.3}}, 0, 0, 3) {
		t.Error("no step where they do not")
	}
}

// Beside a facet of even stock, too, an edge from which the stock falls off is a crest,
// by a quarter of the fall over the higher facet that slopes.
func TestCrestBesideEvenStock(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 1}, {X: 0.5, Y: 1}, {X: 0.5, Y: -3}},
		Facets:   [][3]int32{{0, 1, 2}, {1, 0, 3}},
	}
	wanted := mesh.CornerField{{0.2, 0.2, 0.1}, {0.2, 0.2, 0.2}}
	near(t, "crest", crest(m, wanted, 0, 0, 3), 0.025, 1e-12)
	near(t, "from the other side", crest(m, wanted, 1, 0, 0), 0.025, 1e-12)
	if r, _ := ridges(m, m.Incidence(), wanted, 1); !r.has(0, 0) || !r.has(1, 0) {
		t.Error("no ridge")
	}
	wanted[1][2] = 0.05
	near(t, "of the higher facet", crest(m, wanted, 0, 0, 3), 0.15/4*3, 1e-12)
}
