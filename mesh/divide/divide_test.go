package divide_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/divide"
	"skinstock/mesh/solid"
)

// Whatever edges are marked, however often, the surface stays closed and where
// it was, its pieces lie in the planes of their facets, and no angle falls below
// half the least one of the start (Rivara's bound).
func TestEdgesKeepTheSurface(t *testing.T) {
	box := solid.Box(r3.Vector{}, r3.Vector{X: 8, Y: 5, Z: 3})
	box.Attributes = make([]uint16, 12)
	box.Attributes[3] = 7
	box.Solids = []mesh.Solid{{Name: "a", Count: 4}, {Name: "b", First: 4, Count: 8}}
	rapid.Check(t, func(r *rapid.T) {
		m := box
		for range rapid.IntRange(1, 6).Draw(r, "rounds") {
			topo := m.Topology()
			marked := make([]bool, len(topo.Twin))
			for _, h := range rapid.SliceOfN(rapid.IntRange(0, len(marked)-1), 1, 5).Draw(r, "edges") {
				marked[h] = true
			}
			out, mid, parent := divide.Edges(m, topo, marked)
			for h, yes := range marked {
				if yes && mid[h] == mesh.None {
					r.Fatalf("half-edge %d was marked and is whole", h)
				}
			}
			for f, p := range parent {
				if d := out.FacetNormal(f).Sub(m.FacetNormal(int(p))).Norm(); d > 1e-12 {
					r.Fatalf("facet %d turned by %g", f, d)
				}
				if f > 0 && p < parent[f-1] {
					r.Fatalf("facets out of order")
				}
			}
			m = out
		}
		if !m.Topology().Closed() {
			r.Fatal("open")
		}
		if v := m.Volume(); v < 120-1e-9 || v > 120+1e-9 {
			r.Fatalf("volume %g", v)
		}
		if a := m.Area(); a < 158-1e-9 || a > 158+1e-9 {
			r.Fatalf("area %g", a)
		}
		seven := 0.0
		for f := range m.Facets {
			if m.Attributes[f] == 7 {
				seven += m.FacetArea(f)
			}
		}
		if d := seven - box.FacetArea(3); d > 1e-9 || d < -1e-9 {
			r.Fatalf("the attribute of one facet is on %g mm2", seven)
		}
		if m.Solids[0].Count+m.Solids[1].Count != len(m.Facets) || m.Solids[1].First != m.Solids[0].Count {
			r.Fatalf("solids %v of %d facets", m.Solids, len(m.Facets))
		}
	})
}

// Without marks nothing changes.
func TestNoMarks(t *testing.T) {
	m := solid.Icosphere(3, 2)
	topo := m.Topology()
	out, _, parent := divide.Edges(m, topo, make([]bool, len(topo.Twin)))
	require.Equal(t, m.Facets, out.Facets)
	require.Equal(t, m.Vertices, out.Vertices)
	for f, p := range parent {
		require.EqualValues(t, f, p)
	}
}

// Halving towards one corner again and again leaves facets of a few shapes only.
func TestShapesStay(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 1, Y: 1, Z: 1})
	for range 12 {
		topo := m.Topology()
		marked := make([]bool, len(topo.Twin))
		for h := range marked {
			marked[h] = m.Vertices[m.Origin(int32(h))] == (r3.Vector{})
		}
		m, _, _ = divide.Edges(m, topo, marked)
	}
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		long := max(a.Distance(b), b.Distance(c), c.Distance(a))
		require.Greater(t, 2*m.FacetArea(f)/long/long, 0.2, "facet %d", f) // a right isosceles triangle has 0.5
	}
	require.Less(t, len(m.Facets), 1000, "growth is linear in the number of rounds")
}
