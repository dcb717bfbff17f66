package mesh_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestBuildWindingAndInversion(t *testing.T) {
	ball := solid.Icosphere(5, 2)
	want := ball.Volume()
	for _, c := range []struct {
		name              string
		soup              *mesh.Soup
		winding, inverted int
		volume            float64
		cavities          int
	}{
		{"inside out", turned(soupOf(ball), all), 0, 1, want, 0},
		{"every fifth facet", turned(soupOf(ball), func(f int) bool { return f%5 == 0 }), 64, 0, want, 0},
		{"most facets", turned(soupOf(ball), func(f int) bool { return f%5 != 0 }), 64, 1, want, 0},
		{"a cavity stays", soupOf(ball, solid.Reverse(solid.Icosphere(3, 1))), 0, 0, want - solid.Icosphere(3, 1).Volume(), 1},
		{"a part with a cavity inside out", turned(soupOf(ball, solid.Reverse(solid.Icosphere(3, 1))), all), 0, 2, want - solid.Icosphere(3, 1).Volume(), 1},
		{
			"an inverted core in a cavity", soupOf(ball, solid.Reverse(solid.Icosphere(3, 1)), solid.Reverse(solid.Icosphere(1, 1))),
			0, 1, want - solid.Icosphere(3, 1).Volume() + solid.Icosphere(1, 1).Volume(), 1,
		},
		{
			"an inverted body beside a sound one", soupOf(ball, solid.Reverse(solid.Shift(ball, v(20, 0, 0)))),
			0, 1, 2 * want, 0,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, rep := build(t, c.soup, mesh.BuildOptions{})
			require.Equal(t, c.winding, rep.Of(mesh.MendWinding))
			require.Equal(t, c.inverted, rep.Of(mesh.MendInverted))
			// The soup holds float32 corners, off by 2^-24 of 5 mm on 79 mm2 for each mm2: 1e-6 is ample.
			require.InEpsilon(t, c.volume, m.Volume(), 1e-6)
			n := 0
			for _, s := range m.Shells(m.Topology()) {
				if s.Cavity {
					n++
				}
			}
			require.Equal(t, c.cavities, n)
		})
	}
}

// A body inside the metal of another that is wound outwards stays, and is told.
func TestBuildNestedMetal(t *testing.T) {
	m, rep := build(t, soupOf(solid.Box(v(0, 0, 0), v(9, 9, 9)), solid.Box(v(3, 3, 3), v(6, 6, 6))), mesh.BuildOptions{})
	require.Zero(t, rep.Total())
	require.Equal(t, 1, rep.Nested)
	require.InDelta(t, 729+27, m.Volume(), 1e-12)
	require.Equal(t, "nested_shell", rep.Findings()[0].Code)
}

// Inverted shells that only cross another are turned; they are no cavities of it.
func TestBuildInvertedCrossing(t *testing.T) {
	plus, cross := solid.Box(v(0, 0, 0), v(10, 2, 2)), solid.Box(v(4, -4, 0.5), v(6, 6, 1.5))
	m, rep := build(t, soupOf(plus, solid.Reverse(cross)), mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendInverted))
	require.InDelta(t, 40+20, m.Volume(), 1e-12)
}

func TestShellsNesting(t *testing.T) {
	// An onion of five boxes, alternately wound, and a box beside it.
	var parts []*mesh.Mesh
	for i := range 5 {
		b := solid.Box(v(float64(i), float64(i), float64(i)), v(20-float64(i), 20-float64(i), 20-float64(i)))
		if i%2 == 1 {
			b = solid.Reverse(b)
		}
		parts = append(parts, b)
	}
	parts = append(parts, solid.Box(v(30, 0, 0), v(31, 1, 1)))
	m := solid.Merge(parts...)
	shells := m.Shells(m.Topology())
	require.Len(t, shells, 6)
	for i, s := range shells[:5] {
		require.True(t, s.Closed)
		require.Equal(t, i, s.Depth)
		require.Equal(t, i-1, s.Parent)
		require.Equal(t, i%2 == 1, s.Cavity)
		side := 20 - 2*float64(i)
		require.InEpsilon(t, side*side*side, math.Abs(s.VolumeMM3), 1e-14)
		require.InEpsilon(t, 6*side*side, s.AreaMM2, 1e-14)
	}
	require.Equal(t, 0, shells[5].Depth)
	require.Equal(t, -1, shells[5].Parent)
	require.Equal(t, 12, len(shells[5].Facets))
}

func TestShellsOpen(t *testing.T) {
	m := solid.Box(v(0, 0, 0), v(1, 1, 1))
	m.Facets = m.Facets[1:]
	shells := m.Shells(m.Topology())
	require.Len(t, shells, 1)
	require.False(t, shells[0].Closed)
	require.Equal(t, 11, len(shells[0].Facets))
}
