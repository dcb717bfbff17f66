package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
)

func TestWinding(t *testing.T) {
	a := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 4, Z: 4})
	b := solid.Shift(a, r3.Vector{X: 2, Y: 2, Z: 2})
	cavity := solid.Reverse(solid.Box(r3.Vector{X: 0.5, Y: 0.5, Z: 0.5}, r3.Vector{X: 1, Y: 1, Z: 1}))
	tree := New(solid.Merge(a, b, cavity), 1)
	for _, c := range []struct {
		x, y, z float64
		want    int
	}{
		{1.5, 1.5, 1.5, 1},
		{3, 3, 3, 2},
		{5, 5, 5, 1},
		{0.75, 0.75, 0.75, 0},
		{7, 7, 7, 0},
		{-1, 2, 2, 0},
		{1, 1, -1, 0},
		{2, 2, -1, 0},
		{2, 2, 1.5, 1},
		{3, 2.5, 2.5, 2}, // below corners, edges and diagonals of facets
		{0.25, 0.25, 0.25, 1},
		{0.5, 0.75, 0.25, 1},
	} {
		if got := tree.Winding(r3.Vector{X: c.x, Y: c.y, Z: c.z}); got != c.want {
			t.Errorf("winding at %v %v %v is %d, want %d", c.x, c.y, c.z, got, c.want)
		}
	}
	ball := solid.Icosphere(5, 3)
	bt := New(ball, 1)
	s := bt.Signs(nil)
	r := rand.New(rand.NewPCG(4, 5))
	for i := range 3000 {
		p := r3.Vector{X: 12 * (r.Float64() - 0.5), Y: 12 * (r.Float64() - 0.5), Z: 12 * (r.Float64() - 0.5)}
		if i%2 == 0 { // straight below or above a vertex
			v := ball.Vertices[r.IntN(len(ball.Vertices))]
			p.X, p.Y = v.X, v.Y
		}
		_, d := s.Closest(p, NoHint)
		if in := bt.Inside(p); in != (d < 0) && math.Abs(d) > 1e-12 {
			t.Fatalf("%v: winding says inside %v, signed distance is %v", p, in, d)
		}
	}
}
