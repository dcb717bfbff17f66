package mesh_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// naiveTopology pairs half-edges by a map, the obvious way.
func naiveTopology(m *mesh.Mesh) *mesh.Topology {
	t := &mesh.Topology{Twin: make([]int32, 3*len(m.Facets))}
	at := map[[2]int32][]int32{}
	for h := range int32(3 * len(m.Facets)) {
		u, v := m.Origin(h), m.Target(h)
		e := [2]int32{min(u, v), max(u, v)}
		at[e] = append(at[e], h)
		t.Twin[h] = mesh.None
	}
	for _, hs := range at {
		switch {
		case len(hs) == 1:
			t.OpenEdges++
		case len(hs) > 2:
			t.NonManifoldEdges++
		case m.Origin(hs[0]) == m.Origin(hs[1]):
			t.WrongWayEdges++
		default:
			t.Twin[hs[0]], t.Twin[hs[1]] = hs[1], hs[0]
		}
	}
	for v := range int32(len(m.Vertices)) {
		if soundFans(m, t, v) > 1 {
			t.Pinched++
		}
	}
	return t
}

// soundFans counts the fans of facets around v by joining those across edges;
// 0 when an edge there has no pair.
func soundFans(m *mesh.Mesh, t *mesh.Topology, v int32) int {
	fan := map[int32]int32{}
	for h, twin := range t.Twin {
		if m.Origin(int32(h)) == v || m.Target(int32(h)) == v {
			if twin == mesh.None {
				return 0
			}
			fan[int32(h)/3] = int32(h) / 3
		}
	}
	for range fan {
		for h, twin := range t.Twin {
			if m.Origin(int32(h)) == v || m.Target(int32(h)) == v {
				f, g := int32(h)/3, twin/3
				fan[f] = min(fan[f], fan[g])
				fan[g] = fan[f]
			}
		}
	}
	n := 0
	for f, first := range fan {
		if f == first {
			n++
		}
	}
	return n
}

func TestTopologyAgreesWithMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := int32(rapid.IntRange(3, 12).Draw(t, "vertices"))
		m := &mesh.Mesh{Vertices: make([]r3.Vector, n)}
		for range rapid.IntRange(0, 60).Draw(t, "facets") {
			a := rapid.Int32Range(0, n-1).Draw(t, "a")
			b := (a + 1 + rapid.Int32Range(0, n-3).Draw(t, "b")) % n
			c := rapid.Int32Range(0, n-1).Draw(t, "c")
			if c == a || c == b {
				continue
			}
			m.Facets = append(m.Facets, [3]int32{a, b, c})
		}
		require.Equal(t, naiveTopology(m), m.Topology())
	})
}

// The hub of a fan has a long bucket, which is searched in another way.
func TestTopologyOfFan(t *testing.T) {
	m := solid.Cylinder(5, 2, 300)
	require.Equal(t, naiveTopology(m), m.Topology())
	require.True(t, m.Topology().Closed())
	m.Facets = append(m.Facets, m.Facets[7], m.Facets[11])
	require.Equal(t, naiveTopology(m), m.Topology())
}

// Two cones that meet in their tips form two fans there, whether they are few facets or many.
func TestTopologyOfPinchedVertex(t *testing.T) {
	for _, sides := range []int32{5, 40} {
		m := &mesh.Mesh{Vertices: make([]r3.Vector, 3+2*sides)}
		for cone := range int32(2) {
			rim := 3 + cone*sides
			for i := range sides {
				p, q := rim+i, rim+(i+1)%sides
				m.Facets = append(m.Facets, [3]int32{0, p, q}, [3]int32{1 + cone, q, p})
			}
		}
		topo := m.Topology()
		require.Equal(t, naiveTopology(m), topo)
		require.True(t, topo.Closed())
		require.Equal(t, 1, topo.Pinched)
	}
}

func TestIncidence(t *testing.T) {
	m := solid.Icosphere(1, 2)
	in := m.Incidence()
	require.Len(t, in.Start, len(m.Vertices)+1)
	require.Len(t, in.Corners, 3*len(m.Facets))
	total := 0
	for v := range m.Vertices {
		c := in.Of(int32(v))
		total += len(c)
		require.IsIncreasing(t, c)
		for _, h := range c {
			require.Equal(t, int32(v), m.Origin(h))
		}
	}
	require.Equal(t, 3*len(m.Facets), total)
}
