package mesh_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestBuildDuplicates(t *testing.T) {
	box := solid.Box(v(0, 0, 0), v(1, 2, 3))
	one := soupOf(box)

	t.Run("a facet twice", func(t *testing.T) {
		s := soupOf(box)
		s.Corners = append(s.Corners, s.Corners[4])
		m, rep := build(t, s, mesh.BuildOptions{})
		require.Equal(t, 1, rep.Of(mesh.MendDuplicate))
		require.Equal(t, 6.0, m.Volume())
		require.Equal(t, 12, len(m.Facets))
	})
	t.Run("a facet and a copy turned over", func(t *testing.T) {
		s := soupOf(box)
		c := s.Corners[4]
		c[0], c[1] = c[1], c[0]
		s.Corners = append(s.Corners, c)
		m, rep := build(t, s, mesh.BuildOptions{})
		require.Equal(t, 1, rep.Of(mesh.MendDuplicate))
		require.Equal(t, 6.0, m.Volume())
	})
	t.Run("the whole shell twice", func(t *testing.T) {
		m, rep := build(t, &mesh.Soup{Corners: append(append([][3][3]float32(nil), one.Corners...), one.Corners...)}, mesh.BuildOptions{})
		require.Equal(t, 12, rep.Of(mesh.MendDuplicate))
		require.Equal(t, 12, len(m.Facets))
		require.Equal(t, 6.0, m.Volume())
	})
	t.Run("a stray sheet with two sides", func(t *testing.T) {
		s := soupOf(box)
		p, q, r := [3]float32{5, 0, 0}, [3]float32{6, 0, 0}, [3]float32{5, 1, 0}
		s.Corners = append(s.Corners, [3][3]float32{p, q, r}, [3][3]float32{p, r, q})
		m, rep := build(t, s, mesh.BuildOptions{})
		require.Equal(t, 2, rep.Of(mesh.MendFlap))
		require.Equal(t, 12, len(m.Facets))
	})
	t.Run("a stray sheet of several facets", func(t *testing.T) {
		flat := solid.Box(v(5, 0, 0), v(6, 1, 0))
		m, rep := build(t, soupOf(box, flat), mesh.BuildOptions{})
		require.Equal(t, 4, rep.Of(mesh.MendFlap), "%v", rep.Mends)
		require.Equal(t, 12, len(m.Facets))
	})
}

// Two boxes that share a wall become one body of the sum of their volumes.
func TestBuildInnerWall(t *testing.T) {
	a, b := solid.Box(v(0, 0, 0), v(1, 1, 1)), solid.Box(v(1, 0, 0), v(2, 1, 1))
	s := soupOf(a, b)
	m, rep := build(t, s, mesh.BuildOptions{})
	// The two boxes draw the diagonal of the wall alike or not; either way the volume is 2.
	require.InDelta(t, 2, m.Volume(), 1e-15)
	require.Positive(t, rep.Total())
	if rep.Of(mesh.MendInnerWall) > 0 {
		require.Equal(t, 1, len(m.Shells(m.Topology())))
	}
}
