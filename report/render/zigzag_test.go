package render

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// chain joins points to a run of edges.
func chain(ps ...r3.Vector) (*mesh.Mesh, [][2]int32) {
	var edges [][2]int32
	for i := 1; i < len(ps); i++ {
		edges = append(edges, [2]int32{int32(i - 1), int32(i)})
	}
	return &mesh.Mesh{Vertices: ps}, edges
}

func TestZigzagsAreTakenOut(t *testing.T) {
	stairs := []r3.Vector{{}}
	for i := range 12 { // one step right, one up, and so on
		last := stairs[len(stairs)-1]
		stairs = append(stairs, last.Add([...]r3.Vector{{X: 1}, {Y: 1}}[i%2]))
	}
	long := []r3.Vector{{}, {X: 1}, {X: 2}, {X: 3}, {X: 3, Y: 1}, {X: 3, Y: 2}, {X: 4, Y: 2}, {X: 5, Y: 2}, {X: 6, Y: 2}}
	square := []r3.Vector{{}, {X: 1}, {X: 2}, {X: 2, Y: 1}, {X: 2, Y: 2}, {X: 1, Y: 2}, {Y: 2}, {Y: 1}, {}}
	curve := []r3.Vector{{}, {X: 1}, {X: 2, Y: 0.3}, {X: 3, Y: 0.3}, {X: 4}, {X: 5, Y: 0.3}}
	for _, c := range []struct {
		name string
		ps   []r3.Vector
		fine float64
		near float64
		want int
	}{
		// All lie between two kinks of opposite sense but the first and the last.
		{"staircase", stairs, 0.5, 5, 2},
		{"a staircase too fine to be seen", stairs, 1.5, 5, 12},
		{"a step within reach", long, 0.5, 5, 6},
		{"a step farther than noise reaches", long, 0.5, 1.5, 8},
		{"a square turns in one sense", square, 0.5, 50, 8},
		{"a gentle wave", curve, 0.5, 50, 5},
	} {
		m, edges := chain(c.ps...)
		if got := withoutZigzags(m, edges, c.fine, c.near); len(got) != c.want {
			t.Errorf("%s: %d of %d edges stay, want %d", c.name, len(got), len(edges), c.want)
		}
	}
}
