package mesh_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestBuildTouchingPoint(t *testing.T) {
	m, rep := build(t, soupOf(solid.Box(v(0, 0, 0), v(1, 1, 1)), solid.Box(v(1, 1, 1), v(2, 2, 2))), mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendTouchPoint))
	require.Equal(t, 16, len(m.Vertices))
	require.Len(t, rep.Touching, 2)
	require.Equal(t, m.Vertices[rep.Touching[0]], m.Vertices[rep.Touching[1]])
	require.Equal(t, v(1, 1, 1), m.Vertices[rep.Touching[0]])
	require.Equal(t, 2, len(m.Shells(m.Topology())))
}

func TestBuildTouchingEdge(t *testing.T) {
	m, rep := build(t, soupOf(solid.Box(v(0, 0, 0), v(1, 1, 1)), solid.Box(v(1, 1, 0), v(2, 2, 1))), mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendTouchEdge))
	require.Zero(t, rep.Of(mesh.MendTouchPoint))
	require.Len(t, rep.Touching, 4)
	shells := m.Shells(m.Topology())
	require.Len(t, shells, 2)
	for _, s := range shells {
		require.InDelta(t, 1, s.VolumeMM3, 1e-15)
	}
}

// A facet on the long edge of which a vertex lies, tied in by a facet without area.
func TestBuildFlatFacet(t *testing.T) {
	box := solid.Box(v(0, 0, 0), v(2, 2, 2))
	s := soupOf(box)
	// Put the middle of the edge between corners 0 and 1 of facet 0 into facet 0 only, and tie it in.
	a, b, c := s.Corners[0][0], s.Corners[0][1], s.Corners[0][2]
	p := [3]float32{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2}
	s.Corners[0] = [3][3]float32{a, p, c}
	s.Corners = append(s.Corners, [3][3]float32{p, b, c}, [3][3]float32{a, b, p})
	m, rep := build(t, s, mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendFlat))
	require.Equal(t, 14, len(m.Facets))
	for f := range m.Facets {
		require.Positive(t, m.FacetArea(f))
	}
	require.InDelta(t, 8, m.Volume(), 1e-14)
	require.InDelta(t, 24, m.Area(), 1e-14)
}

// The same place without the facet: a T-junction.
func TestBuildTJunction(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(2, 2, 2)))
	s.Attributes = make([]uint16, 12)
	for f := range s.Attributes {
		s.Attributes[f] = uint16(f)
	}
	a, b, c := s.Corners[0][0], s.Corners[0][1], s.Corners[0][2]
	p := [3]float32{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2}
	s.Corners[0] = [3][3]float32{a, p, c}
	s.Corners = append(s.Corners, [3][3]float32{p, b, c})
	s.Attributes = append(s.Attributes, 0)
	s.Solids = []mesh.Solid{{Name: "first", First: 0, Count: 6}, {Name: "second", First: 6, Count: 7}}
	m, rep := build(t, s, mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendTJunction))
	require.Equal(t, 14, len(m.Facets))
	require.InDelta(t, 8, m.Volume(), 1e-14)
	require.InDelta(t, 24, m.Area(), 1e-14)
	// Facets keep their order, sources and attributes go along, runs still cover all.
	require.IsNonDecreasing(t, m.Source)
	twice := 0
	for f := range m.Facets {
		if m.Source[f] < 12 {
			require.Equal(t, uint16(m.Source[f]), m.Attributes[f])
		}
		if f > 0 && m.Source[f] == m.Source[f-1] {
			twice++
		}
	}
	require.Equal(t, 1, twice)
	require.Equal(t, 14, m.Solids[0].Count+m.Solids[1].Count)
	require.Equal(t, m.Solids[0].Count, m.Solids[1].First)
	for f := range m.Facets {
		want := m.Source[f] >= 6
		require.Equal(t, want, f >= m.Solids[1].First)
	}
}

// Two bodies 2 um apart stay two bodies, whatever the tolerance, because they
// are closed. With one of them cracked, only the crack is closed.
func TestBuildNearBodiesStayApart(t *testing.T) {
	a, b := solid.Box(v(0, 0, 0), v(50, 50, 50)), solid.Box(v(50.002, 0, 0), v(100, 50, 50))
	for _, tol := range []float64{0, 0.01, 0.1} {
		m, rep := build(t, soupOf(a, b), mesh.BuildOptions{WeldTolMM: tol})
		require.Zero(t, rep.Total())
		require.Equal(t, 2, len(m.Shells(m.Topology())))
	}
	s := soupOf(a, b)
	s.Corners[0][0][0] += 5e-6
	m, rep := build(t, s, mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendCrack))
	require.Equal(t, 2, len(m.Shells(m.Topology())))
	require.InEpsilon(t, 50*50*(50+49.998), m.Volume(), 1e-6)
}

// A crack as wide as the part's own features is not closed by itself, and is when asked for.
func TestBuildWideCrack(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(10, 10, 10)))
	s.Corners[0][0][0] += 0.05
	_, rep, err := mesh.Build(s, mesh.BuildOptions{})
	require.Error(t, err)
	require.InDelta(t, 1e-4*math.Sqrt(300), rep.WeldTolMM, 1e-5)
	m, rep := build(t, s, mesh.BuildOptions{WeldTolMM: 0.1})
	require.Equal(t, 1, rep.Of(mesh.MendCrack))
	require.InDelta(t, 0.05, rep.Mends[0].MoveMM, 1e-6)
	require.InEpsilon(t, 1000, m.Volume(), 0.01)
}

// A plate 5 um thick with cracks of up to 0.4 um. The tolerance of a part of its
// size, 11 um, would fold the plate up; its own short edges forbid it.
func TestBuildKeepsFineFeature(t *testing.T) {
	plate := solid.Box(v(0, 0, 0), v(100, 0.005, 50))
	s := soupOf(plate)
	for f := range s.Corners { // every facet on its own
		for k := range 3 {
			s.Corners[f][k][0] += float32(f%3) * 2e-4
		}
	}
	m, rep := build(t, s, mesh.BuildOptions{WeldTolMM: 0.011})
	require.Equal(t, 12, len(m.Facets))
	require.InEpsilon(t, plate.Volume(), m.Volume(), 1e-4)
	require.InDelta(t, 4e-4, rep.Mends[0].MoveMM, 1e-5)
}
