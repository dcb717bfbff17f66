package grow

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// The nearer neighbour counts more, by one over its distance.
func TestMeanMoveOfNeighbours(t *testing.T) {
	m := &mesh.Mesh{Vertices: []r3.Vector{{}, {X: 1}, {Y: 4}}, Facets: [][3]int32{{0, 1, 2}}}
	g := newGrower(m, m.Topology(), Options{})
	g.in = m.Incidence()
	moved := &Result{Vertices: []r3.Vector{{}, {X: 1, Z: 1}, {Y: 4, Z: 2}}}
	mean, weight := newNear(g, nil).mean(moved, 0)
	// (1/1 + 2/4)/(1/1 + 1/4)
	if d := mean.Distance(r3.Vector{Z: 1.2}); d > 1e-15 || math.Abs(weight-1.25) > 1e-15 {
		t.Errorf("mean move %v of weight %g, want 1.2 along z of 1.25", mean, weight)
	}
}
