package screen_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/region/screen"
)

// cells is the surface of the unit cells that full says are metal, out of n in each direction.
func cells(n int, full func(x, y, z int) bool) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := map[[3]int]int32{}
	corner := func(c [3]int) int32 {
		v, ok := at[c]
		if !ok {
			v = int32(len(m.Vertices))
			at[c] = v
			m.Vertices = append(m.Vertices, r3.Vector{X: float64(c[0]), Y: float64(c[1]), Z: float64(c[2])})
		}
		return v
	}
	has := func(c [3]int) bool {
		for _, x := range c {
			if x < 0 || x >= n {
				return false
			}
		}
		return full(c[0], c[1], c[2])
	}
	for x := range n {
		for y := range n {
			for z := range n {
				c := [3]int{x, y, z}
				if !has(c) {
					continue
				}
				for d := range 3 {
					u, w := (d+1)%3, (d+2)%3
					for s := range 2 {
						o := c
						o[d] += 2*s - 1
						if has(o) {
							continue
						}
						var q [4]int32
						for i, e := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
							p := c
							p[d] += s
							p[u] += e[0]
							p[w] += e[1]
							q[i] = corner(p)
						}
						if s == 0 {
							q[1], q[3] = q[3], q[1]
						}
						m.Facets = append(m.Facets, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
					}
				}
			}
		}
	}
	return m
}

// A box of 12 x 12 x 12 with walls of one holds 10 x 10 x 11, less a cup that hangs
// in it on an arm from its wall, below the rim, and with it.
func TestCupInABasin(t *testing.T) {
	m := cells(12, func(x, y, z int) bool {
		if x >= 4 && x <= 6 && y >= 4 && y <= 6 && z >= 2 && z <= 4 {
			return x != 5 || y != 5 || z == 2
		}
		return x == 0 || x == 11 || y == 0 || y == 11 || z == 0 || z == 4 && y == 4 && x < 4
	})
	require.True(t, m.Topology().Closed())
	rep := look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}})
	require.Len(t, rep.Pockets, 1)
	require.InDelta(t, 1100-25-3, rep.Pockets[0].VolumeMM3, 1e-6)
	require.InDelta(t, 11, rep.Pockets[0].DepthMM, 1e-9)
}

// A ledge on the inside of its wall does not let a basin spill: 10 x 10 x 11 less 2.
func TestLedgeInABasin(t *testing.T) {
	m := cells(12, func(x, y, z int) bool {
		return x == 0 || x == 11 || y == 0 || y == 11 || z == 0 || z == 5 && x < 3 && y == 4
	})
	require.True(t, m.Topology().Closed())
	rep := look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}})
	require.Len(t, rep.Pockets, 1)
	require.InDelta(t, 1098, rep.Pockets[0].VolumeMM3, 1e-6)
	require.InDelta(t, 11, rep.Pockets[0].DepthMM, 1e-9)
}

// Nor does a hook that hangs from the wall into it: 10 x 10 x 11 less 8.
func TestHookInABasin(t *testing.T) {
	m := cells(12, func(x, y, z int) bool {
		return x == 0 || x == 11 || y == 0 || y == 11 || z == 0 || z == 7 && x < 5 && y == 4 || x == 4 && y == 4 && z >= 3 && z <= 7
	})
	require.True(t, m.Topology().Closed())
	rep := look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}})
	require.Len(t, rep.Pockets, 1)
	require.InDelta(t, 1092, rep.Pockets[0].VolumeMM3, 1e-6)
	require.InDelta(t, 11, rep.Pockets[0].DepthMM, 1e-9)
}
