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
