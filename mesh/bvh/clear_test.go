package bvh_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

// What is asked for together agrees with what each facet is asked for: where a run
// of facets is clear, no place of any of them has something opposite. Of flat faces
// most facets are told so at once, of rounds fewer.
func TestClearTogether(t *testing.T) {
	cos := math.Cos(120 * math.Pi / 180)
	box := solid.Box(r3.Vector{}, r3.Vector{X: 8, Y: 6, Z: 4})
	for range 4 {
		box = solid.Halve(box)
	}
	gyroid := solid.GyroidCube(1.5)
	for _, c := range []struct {
		m      *mesh.Mesh
		within float64
		least  float64 // share told at once
	}{{box, 0.5, 0.8}, {gyroid, 0.5, 0.1}, {gyroid, 4, 0}, {gyroid, 40, 0}} {
		m := c.m
		f := bvh.New(m, 1).Facing(1)
		clear := f.Clear(c.within, cos, 1)
		require.Equal(t, clear, f.Clear(c.within, cos, 4))
		n := 0
		for i, yes := range clear {
			if !yes {
				continue
			}
			n++
			for _, p := range [...]float64{0, 0.3, 0.9} {
				a, b, d := m.Triangle(i)
				q := a.Mul(p).Add(b.Mul((1 - p) / 2)).Add(d.Mul((1 - p) / 2))
				if h, ok := f.Closest(q, c.within, f.Normal(i), cos, func(g int) bool {
					e, _, _ := m.Triangle(g)
					return q.Sub(e).Dot(f.Normal(g)) > 1e-9
				}); ok {
					require.LessOrEqual(t, h.Point.Sub(q).Dot(f.Normal(i)), 1e-9, "facet %d: %v", i, h)
				}
			}
		}
		t.Logf("%d of %d facets within %g mm", n, len(clear), c.within)
		require.GreaterOrEqual(t, float64(n), c.least*float64(len(clear)))
	}
}
