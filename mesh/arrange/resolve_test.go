package arrange

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func vec(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// resolve runs Resolve and checks what must hold of every result.
func resolve(t *testing.T, m *mesh.Mesh, opt Options) (*mesh.Mesh, *Report) {
	t.Helper()
	out, rep, err := Resolve(context.Background(), m, opt)
	require.NoError(t, err)
	requireSound(t, out)
	require.Len(t, rep.Facet, len(out.Facets))
	require.Len(t, rep.Vertex, len(out.Vertices))
	return out, rep
}

// requireSound checks closedness, manifoldness, single precision, distinct
// vertices and the absence of contacts.
func requireSound(t *testing.T, m *mesh.Mesh) {
	t.Helper()
	require.True(t, m.Topology().Closed())
	seen := map[r3.Vector]bool{}
	for _, v := range m.Vertices {
		require.Equal(t, v, vec(float64(float32(v.X)), float64(float32(v.Y)), float64(float32(v.Z))))
		require.False(t, seen[v], "two vertices at %v", v)
		seen[v] = true
	}
	s, err := fromMesh(m)
	require.NoError(t, err)
	require.NoError(t, s.link())
	require.Len(t, s.at, len(m.Vertices), "a vertex joins several fans")
	cs, err := newTree(s).contacts(context.Background(), 1)
	require.NoError(t, err)
	require.Empty(t, cs)
}

func TestTwoBoxesOverlap(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(10, 10, 10)), solid.Box(vec(3, 4, 5), vec(12, 13, 14)))
	out, rep := resolve(t, m, Options{})
	require.InDelta(t, 1000+729-7*6*5, out.Volume(), 1e-3)
	require.Equal(t, 1, rep.ShellsOut)
	t.Logf("%+v", *rep)
}

func TestBoxThroughFace(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(10, 10, 10)), solid.Box(vec(3, 4, 5), vec(5, 6, 14)))
	out, _ := resolve(t, m, Options{})
	require.InDelta(t, 1000+2*2*4, out.Volume(), 1e-3)
}

func TestNested(t *testing.T) {
	outer := solid.Box(vec(0, 0, 0), vec(10, 10, 10))
	inner := solid.Box(vec(3, 4, 5), vec(5, 6, 7))
	out, _ := resolve(t, solid.Merge(outer, inner), Options{})
	require.InDelta(t, 1000, out.Volume(), 1e-9)
	out, _ = resolve(t, solid.Merge(outer, solid.Reverse(inner)), Options{})
	require.InDelta(t, 992, out.Volume(), 1e-9)
}

func TestSteinmetz(t *testing.T) {
	const r, l = 3.0, 12.0
	for _, n := range []int{32, 128} {
		c := solid.Cylinder(r, l, n)
		mid := solid.Shift(c, vec(0, 0, -l/2))
		lo, hi := mid.Bounds()
		require.InDelta(t, -l/2, lo.Z, 1e-9)
		require.InDelta(t, l/2, hi.Z, 1e-9)
		x := solid.Map(mid, func(p r3.Vector) r3.Vector { return vec(p.Z, p.X, p.Y) })
		out, rep := resolve(t, solid.Merge(mid, x), Options{})
		want := 2*math.Pi*r*r*l - 16*r*r*r/3
		t.Logf("n=%d volume %g of %g, %d pieces, %d rounds", n, out.Volume(), want, rep.FacetsAdded, rep.Rounds)
		require.InEpsilon(t, want, out.Volume(), 8/float64(n*n))
	}
}

func TestSpheres(t *testing.T) {
	a := solid.Icosphere(5, 4)
	b := solid.Shift(a, vec(3.1, 0.7, 0.3))
	c := solid.Shift(a, vec(1.1, 3.7, -0.3))
	out, rep := resolve(t, solid.Merge(a, b, c), Options{})
	t.Logf("%g %+v", out.Volume(), len(rep.Facet))
	require.Equal(t, 1, rep.ShellsOut)
}
