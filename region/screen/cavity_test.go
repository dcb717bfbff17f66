package screen_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// Cavities are counted exactly, and nothing else is one.
func TestCavityCounts(t *testing.T) {
	ball := func(r float64, at r3.Vector) *mesh.Mesh { return solid.Shift(solid.Icosphere(r, 3), at) }
	box := func(x0, y0, z0, x1, y1, z1 float64) *mesh.Mesh {
		return solid.Box(r3.Vector{X: x0, Y: y0, Z: z0}, r3.Vector{X: x1, Y: y1, Z: z1})
	}
	block := box(0, 0, 0, 40, 20, 20)
	hollow := solid.Reverse(ball(4, r3.Vector{X: 10, Y: 10, Z: 10}))
	second := solid.Reverse(box(20, 5, 5, 35, 15, 15))
	loose := ball(2, r3.Vector{X: 27, Y: 10, Z: 10})
	inLoose := solid.Reverse(ball(1, r3.Vector{X: 27, Y: 10, Z: 10}))
	nested := ball(2, r3.Vector{X: 10, Y: 10, Z: 10})
	sliver := solid.Reverse(box(2, 2, 2, 6, 6, 2.0001))
	outerSliver := box(50, 2, 2, 56, 6, 2.0001)
	var lattice []*mesh.Mesh
	for i := range 4 {
		d := 10 * float64(i)
		lattice = append(lattice, box(-1, d, 0, 31, d+2, 2), box(d, -1, 0.5, d+1, 33, 1.5), box(d, 10*float64((i+1)%4), -5, d+1.5, 10*float64((i+1)%4)+1.5, 12))
	}
	for _, c := range []struct {
		name                           string
		m                              *mesh.Mesh
		cavities, loose, sheet, nested int
	}{
		{"solid", block, 0, 0, 0, 0},
		{"hollow", solid.Merge(block, hollow), 1, 0, 0, 0},
		{"two hollows, one with a loose body", solid.Merge(block, hollow, second, loose), 2, 1, 0, 0},
		{"a hollow in the loose body", solid.Merge(block, second, loose, inLoose), 2, 1, 0, 0},
		{"body in the metal", solid.Merge(block, nested), 0, 0, 0, 1},
		{"slivers within and beside", solid.Merge(block, sliver, outerSliver), 0, 0, 2, 0},
		{"sliver in a hollow", solid.Merge(block, second, solid.Reverse(box(22, 8, 10, 26, 12, 10.0001))), 1, 0, 1, 0},
		{"overlapping lattice", solid.Merge(lattice...), 0, 0, 0, 0},
		{"overlapping lattice, united", cut(t, solid.Merge(lattice...)), 0, 0, 0, 0},
	} {
		rep := look(t, c.m, screen.Options{})
		require.Len(t, rep.Cavities, c.cavities, c.name)
		n, kinds := 0, map[screen.StrayKind]int{}
		for _, v := range rep.Cavities {
			n += v.Loose
		}
		for _, s := range rep.Strays {
			kinds[s.Kind]++
		}
		require.Equal(t, c.loose, n, c.name)
		require.Equal(t, c.sheet, kinds[screen.Sheet], c.name)
		require.Equal(t, c.nested, kinds[screen.Nested], c.name)
	}
}
