package arrange

import (
	"context"
	"flag"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

var late = flag.Bool("late", false, "resolve twice the part of a thousand beams that a plain run leaves to .ci/run")

// Who knows which facets meet gets the same surface as who does not, touching
// bodies, doubled shells and corners at one place with it.
func TestSuspectsChangeNothing(t *testing.T) {
	cube := solid.Box(vec(0, 0, 0), vec(4, 4, 4))
	parts := map[string]*mesh.Mesh{
		"bracket":                 averaged(solid.SmoothBracket(2.6), 0.2),
		"gyroid":                  averaged(solid.GyroidCube(2.4), 0.2),
		"ball":                    noisy(solid.Icosphere(4, 3), 0.6, 3),
		"cubes over each other":   solid.Merge(cube, solid.Box(vec(3, 3, 3), vec(6, 7, 8))),
		"cubes at a face":         solid.Merge(cube, solid.Box(vec(4, 0, 0), vec(8, 4, 4))),
		"cubes at an edge":        solid.Merge(cube, solid.Box(vec(4, 4, 0), vec(8, 8, 4))),
		"cubes at a corner":       solid.Merge(cube, solid.Box(vec(4, 4, 4), vec(8, 8, 8))),
		"a cube twice":            solid.Merge(cube, cube),
		"links":                   averaged(stltest.Welded(t, meshtest.Shared(t, "chain-40-links.stl"), 1), 0.4),
		"off the grid near plane": solid.Merge(cube, solid.Box(vec(1e-9, 1e-9, 3), vec(2, 2, 6))),
	}
	if *late {
		parts = map[string]*mesh.Mesh{"beams": stltest.Welded(t, meshtest.Shared(t, "voronoi-beam-lattice.stl"), 1)}
	}
	for name, m := range parts {
		t.Run(name, func(t *testing.T) {
			m = m.Clone()
			m.RoundToFloat32()
			c, err := bvh.New(m, 2).SelfCrossings(context.Background(), bvh.CrossingOptions{Workers: 2})
			require.NoError(t, err)
			want, all := resolveOnce(t, name, m)
			got, rep := resolve(t, m, Options{Workers: 2, Suspects: c.Facets()})
			require.Equal(t, want, got)
			require.Equal(t, all, rep)
		})
	}
}
