package offset

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestBodies(t *testing.T) {
	cube := func(at, side float64) *mesh.Mesh {
		return solid.Box(r3.Vector{X: at, Y: at, Z: at}, r3.Vector{X: at + side, Y: at + side, Z: at + side})
	}
	hollow := solid.Reverse(cube(1, 2))
	for _, c := range []struct {
		what          string
		m             *mesh.Mesh
		bodies, solid int
	}{
		{"one", cube(0, 4), 1, 1},
		{"two apart", solid.Merge(cube(0, 4), cube(5, 1)), 2, 2},
		{"two at a corner, the larger one last", solid.Merge(solid.Icosphere(1, 2), cube(-9, 1), cube(-8, 2), solid.Reverse(cube(-7.5, 1))), 3, 2},
		{"hollow", solid.Merge(cube(0, 4), hollow), 2, 1},
		{"inside out", hollow, 1, 0},
		{"chained by corners", solid.Merge(cube(0, 1), cube(2, 1), cube(1, 1)), 1, 1},
	} {
		topo := c.m.Topology()
		body, n := bodiesOf(c.m, topo)
		require.Equal(t, c.bodies, n, c.what)
		require.Equal(t, int32(0), body[0], c.what)
		require.Equal(t, c.solid, solidBodies(c.m, topo), c.what)
	}
}
