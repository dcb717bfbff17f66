package clean_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/clean"
	"skinstock/mesh/solid"
)

func clean1(t testing.TB, m *mesh.Mesh, opt clean.Options) (*mesh.Mesh, clean.Report) {
	t.Helper()
	out, rep, err := clean.Slivers(context.Background(), m, opt)
	require.NoError(t, err)
	require.True(t, out.Topology().Closed())
	return out, rep
}

// farthest returns the largest distance from points spread over the facets of
// a to the surface b, by the closest point of a search tree.
func farthest(a, b *mesh.Mesh) float64 {
	tree := bvh.New(b, 1)
	worst, hint := 0.0, 0
	for f := range a.Facets {
		p, q, r := a.Triangle(f)
		const n = 3
		for i := range n + 1 {
			for j := range n + 1 - i {
				u, v := float64(i)/n, float64(j)/n
				x := p.Mul(1 - u - v).Add(q.Mul(u)).Add(r.Mul(v))
				h := tree.Closest(x, hint)
				hint = h.Facet
				worst = max(worst, h.Dist)
			}
		}
	}
	return worst
}

func slivers(m *mesh.Mesh, low float64) int {
	n := 0
	for f := range m.Facets {
		p, q, r := m.Triangle(f)
		l := math.Sqrt(max(q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()))
		if h := m.AreaNormal(f).Norm() / l; h < low || h < 0.02*l {
			n++
		}
	}
	return n
}

var parts = []struct {
	name string
	make func() *mesh.Mesh
}{
	{"lander", func() *mesh.Mesh { return solid.LanderBracket(1.8) }},
	{"smooth", func() *mesh.Mesh { return solid.SmoothBracket(1.6) }},
	{"gyroid", func() *mesh.Mesh { return solid.GyroidCube(1.6) }},
	{"lattice", func() *mesh.Mesh { return solid.LatticeCube(1.3) }},
}

// On voxel-born parts most slivers go, the surface stays within the tolerance
// both ways, and facets away from slivers stay facet for facet.
func TestVoxelBornParts(t *testing.T) {
	for _, c := range parts {
		t.Run(c.name, func(t *testing.T) {
			m := c.make()
			const chord = 0.001
			out, rep := clean1(t, m, clean.Options{ChordMM: chord})
			t.Logf("%d facets to %d, slivers %d to %d, %d collapsed, %d flipped, bound %.3g um, seen %.3g and %.3g um",
				len(m.Facets), len(out.Facets), rep.Before, rep.After, rep.Collapsed, rep.Flipped, 1000*rep.MovedMM,
				1000*farthest(m, out), 1000*farthest(out, m))
			require.Equal(t, slivers(m, 20*chord), rep.Before)
			require.Equal(t, slivers(out, 20*chord), rep.After)
			require.LessOrEqual(t, rep.MovedMM, chord)
			require.LessOrEqual(t, farthest(m, out), chord)
			require.LessOrEqual(t, farthest(out, m), chord)
			require.Equal(t, len(m.Facets)-2*rep.Collapsed, len(out.Facets))
			require.InDelta(t, m.Volume(), out.Volume(), chord*m.Area())
			kept := 0
			for f := range out.Facets {
				if a, b, c := out.Triangle(f); slices.Contains(same(m, out.SourceOf(f)), [3]r3.Vector{a, b, c}) {
					kept++
				}
			}
			require.Greater(t, kept, len(out.Facets)/2)
			for name, x := range map[string]*mesh.Mesh{"before": m, "after": out} {
				cr, err := bvh.New(x, 1).SelfCrossings(context.Background(), bvh.CrossingOptions{})
				require.NoError(t, err)
				t.Logf("crossings %s: %d", name, len(cr.Pairs))
			}
		})
	}
}

// same returns the facet's corners in its three turns.
func same(m *mesh.Mesh, f int) [][3]r3.Vector {
	a, b, c := m.Triangle(f)
	return [][3]r3.Vector{{a, b, c}, {b, c, a}, {c, a, b}}
}

// A surface without slivers is handed back as it is.
func TestNothingToDo(t *testing.T) {
	m := solid.Icosphere(10, 4)
	out, rep := clean1(t, m, clean.Options{})
	require.Same(t, m, out)
	require.Zero(t, rep)
}

// A vertex 5 um from a corner on the edge of a box, tied to all around: on flat
// faces and a straight edge it can go without moving the surface at all.
func TestNearVertexOnEdge(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30})
	splitEdge(m, 0, 0.0005)
	before := m.Clone()
	out, rep := clean1(t, m, clean.Options{})
	require.Equal(t, before, m, "the input stays")
	require.Equal(t, 1, rep.Collapsed)
	require.Less(t, rep.MovedMM, 1e-12)
	require.Equal(t, 12, len(out.Facets))
	require.InDelta(t, 6000, out.Volume(), 1e-9)
	require.InDelta(t, 2*(200+300+600), out.Area(), 1e-9)
	lo, hi := out.Bounds()
	require.Equal(t, r3.Vector{}, lo)
	require.Equal(t, r3.Vector{X: 10, Y: 20, Z: 30}, hi)
}

// splitEdge puts a vertex into the edge of half-edge h at share s of its length.
func splitEdge(m *mesh.Mesh, h int32, s float64) {
	g := m.Topology().Twin[h]
	v := int32(len(m.Vertices))
	a, b := m.Vertices[m.Origin(h)], m.Vertices[m.Target(h)]
	m.Vertices = append(m.Vertices, a.Add(b.Sub(a).Mul(s)))
	for _, x := range [2]int32{h, g} {
		p, q, r := m.Origin(x), m.Target(x), m.Origin(mesh.Prev(x))
		m.Facets[x/3] = [3]int32{p, v, r}
		m.Facets = append(m.Facets, [3]int32{v, q, r})
	}
}

// A cap: a vertex almost on the long edge of its facet, in a flat face. Flipping the edge mends it.
func TestCap(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 10})
	// Into facet 0, near the middle of its first edge, all its corners joined to it.
	a, b, c := m.Triangle(0)
	v := int32(len(m.Vertices))
	m.Vertices = append(m.Vertices, a.Add(b).Mul(0.5).Mul(1-1e-4).Add(c.Mul(1e-4)))
	f := m.Facets[0]
	m.Facets[0] = [3]int32{f[0], f[1], v}
	m.Facets = append(m.Facets, [3]int32{f[1], f[2], v}, [3]int32{f[2], f[0], v})
	before := slivers(m, 0.02)
	require.Equal(t, 1, before)
	out, rep := clean1(t, m, clean.Options{})
	require.Equal(t, 1, rep.Flipped+rep.Collapsed)
	require.Zero(t, rep.After)
	require.LessOrEqual(t, farthest(m, out), 0.001)
	require.InDelta(t, 1000, out.Volume(), 0.001*600)
}

// A tetrahedron has nothing to spare, however thin.
func TestTetrahedronStays(t *testing.T) {
	m := solid.Tetrahedron(r3.Vector{}, r3.Vector{X: 10}, r3.Vector{X: 5, Y: 0.001}, r3.Vector{X: 5, Z: 0.001})
	out, rep := clean1(t, m, clean.Options{})
	require.Same(t, m, out)
	require.Equal(t, 4, rep.After)
}

func TestOpenSurface(t *testing.T) {
	m := solid.Icosphere(1, 0)
	m.Facets = m.Facets[1:]
	_, _, err := clean.Slivers(context.Background(), m, clean.Options{})
	require.ErrorIs(t, err, clean.ErrNotClosed)
}

func TestCancelled(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, _, err := clean.Slivers(ctx, solid.SmoothBracket(4), clean.Options{ChordMM: 0.01})
	require.ErrorIs(t, err, context.Canceled)
}

// Sources, attributes and runs go along, and a second run changes little or nothing more than it says.
func TestBookkeeping(t *testing.T) {
	m := solid.SmoothBracket(3)
	n := len(m.Facets)
	m.Attributes = make([]uint16, n)
	for f := range m.Attributes {
		m.Attributes[f] = uint16(f % 60000)
	}
	m.Solids = []mesh.Solid{{Name: "a", First: 0, Count: n / 3}, {Name: "b", First: n / 3, Count: n - n/3}}
	out, rep := clean1(t, m, clean.Options{ChordMM: 0.01})
	require.Positive(t, rep.Collapsed)
	require.Len(t, out.Source, len(out.Facets))
	for f := range out.Facets {
		require.Equal(t, uint16(out.Source[f]%60000), out.Attributes[f])
	}
	require.Equal(t, len(out.Facets), out.Solids[0].Count+out.Solids[1].Count)
	require.Equal(t, out.Solids[0].Count, out.Solids[1].First)
	again, _ := clean1(t, m, clean.Options{ChordMM: 0.01})
	require.Equal(t, out, again)
}

func BenchmarkSlivers(b *testing.B) {
	m := solid.SmoothBracket(0.77)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := clean.Slivers(context.Background(), m, clean.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
