package grow

import (
	"context"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

// crossings counts crossing pairs on the coordinates that would be written.
func crossings(t testing.TB, m *mesh.Mesh) int {
	t.Helper()
	m = m.Clone()
	m.RoundToFloat32()
	x, err := bvh.New(m, 0).SelfCrossings(context.Background(), bvh.CrossingOptions{})
	require.NoError(t, err)
	return x.Total
}

// plainly grows without untangling.
func plainly(t testing.TB, m *mesh.Mesh, a float64) *mesh.Mesh {
	t.Helper()
	opt := Options{}
	require.NoError(t, opt.complete(m))
	g := newGrower(m, m.Topology(), opt)
	g.in = m.Incidence()

	field := mesh.UniformPerFacet(filled(m, a))
	r := &Result{Vertices: make([]r3.Vector, len(m.Vertices)), Allowance: field}
	require.NoError(t, g.moveAll(context.Background(), r))
	return m.WithVertices(r.Vertices)
}

// Voxel-born bodies cross in hundreds of places when every vertex answers to
// its own facets alone, and (almost) nowhere with their neighbourhood; and no stock is missing.
func TestVoxelBornBodies(t *testing.T) {
	if testing.Short() {
		t.Skip("grows three parts of 100,000 facets")
	}
	for _, c := range []struct {
		name        string
		m           *mesh.Mesh
		plain, most int
	}{
		{"smooth bracket", solid.SmoothBracket(0.77), 1000, 0},
		{"demo part", solid.LanderBracket(0.91), 1000, 0},
		// The sheet is cut flat, which leaves knife edges: needles.
		{"gyroid", solid.GyroidCube(0.78), 8000, 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := c.m
			m.RoundToFloat32()
			require.Zero(t, crossings(t, m))
			require.Greater(t, crossings(t, plainly(t, m, 0.2)), c.plain, "the body must be hard for the test to mean anything")
			r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{})
			require.NoError(t, err)
			g := m.WithVertices(r.Vertices)
			require.LessOrEqual(t, crossings(t, g), c.most)
			if c.most > 0 {
				return
			}
			tree, hint := bvh.New(g, 0), bvh.NoHint
			signs := tree.Signs(g.Incidence())
			for f := range m.Facets {
				p := centre(m, f)
				h, d := signs.Closest(p, hint)
				hint = h.Facet
				// 1 um is the tolerance of missing stock; what is seen are squeezed slivers.
				require.LessOrEqual(t, d, -0.2+0.001, "facet %d lacks stock", f)
			}
		})
	}
}

// steps is a staircase: concave right angles with vertices closer to them than the allowance.
func steps() *mesh.Mesh {
	profile := []r3.Vector{
		v(0, 0, 0), v(10, 0, 0), v(10, 4, 0),
		v(5.1, 4, 0), v(5.05, 4, 0), v(5, 4, 0), v(5, 4.03, 0), v(5, 4.1, 0), v(5, 4.5, 0), v(5, 9, 0),
		v(0, 9, 0),
	}
	return solid.Extrude(profile, v(2, 2, 0), 5)
}

// Beside a concave edge the vertices that would be buried are squeezed into a
// strip along the edge of the grown faces; those faces are where they belong.
func TestBesideConcaveEdge(t *testing.T) {
	m := steps()
	require.Positive(t, crossings(t, plainly(t, m, 0.2)))
	g := grown(t, m, filled(m, 0.2), Options{})
	require.Zero(t, crossings(t, g))
	// The profile's area grows by what the exact offset adds: perimeter 38 times
	// 0.2, five convex corners and one concave one of 0.2 x 0.2, and height 5.4.
	want := (10*4 + 5*5 + 38*0.2 + 4*0.04) * 5.4
	require.InEpsilon(t, want, g.Volume(), 1e-9)
}
