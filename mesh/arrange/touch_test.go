package arrange

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

// nudgedMM3 bounds what nudging adds to a part of some 10 mm2 that touches
// itself: 0.1 um over that area.
const nudgedMM3 = 1e-3

func cube(x, y, z float64) *mesh.Mesh { return solid.Box(vec(x, y, z), vec(x+1, y+1, z+1)) }

func TestCubesThatTouchBecomeOne(t *testing.T) {
	for _, c := range []struct {
		name  string
		other *mesh.Mesh
	}{
		{"whole face", cube(1, 0, 0)},
		{"part of a face", cube(1, 0.25, 0.5)},
		{"edge", cube(1, 1, 0)},
		{"part of an edge", cube(1, 1, 0.5)},
		{"corner", cube(1, 1, 1)},
		{"corner on a face", solid.Map(cube(0, 0, 0), func(p r3.Vector) r3.Vector {
			return vec(1+p.X+0.5*p.Y, 0.5+p.Y-0.5*p.X, 0.5+p.Z-0.25*p.X-0.25*p.Y)
		})},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := solid.Merge(cube(0, 0, 0), c.other)
			out, rep := resolve(t, m, Options{})
			require.Positive(t, rep.Touches)
			require.Zero(t, rep.Crossings)
			require.Equal(t, 1, rep.ShellsOut)
			require.InDelta(t, m.Volume(), out.Volume(), nudgedMM3)
			require.GreaterOrEqual(t, out.Volume(), m.Volume(), "stock was lost")
			require.Less(t, rep.MaxMoveMM, 0.0005)
		})
	}
}

// The same with welded vertices, as a file has them: an edge with four facets.
func TestTwoCubesOneEdgeWelded(t *testing.T) {
	m := stltest.Welded(t, meshtest.Shared(t, "two-cubes-one-edge.stl"), 1)
	require.Equal(t, 1, m.Topology().NonManifoldEdges)
	out, rep := resolve(t, m, Options{})
	require.Equal(t, 1, rep.ShellsOut)
	require.InDelta(t, 2, out.Volume(), nudgedMM3)
}

func TestCoplanarOverlap(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(2, 2, 1)), solid.Box(vec(1, 1, 0), vec(3, 3, 1)))
	out, rep := resolve(t, m, Options{})
	require.InDelta(t, 7, out.Volume(), nudgedMM3)
	require.Equal(t, 1, rep.ShellsOut)
}

func TestDuplicateShells(t *testing.T) {
	s := solid.Icosphere(5, 3)
	s.RoundToFloat32()
	out, rep := resolve(t, solid.Merge(s, s, s), Options{})
	require.Equal(t, 2, rep.Duplicates)
	require.Equal(t, s.Vertices, out.Vertices)
	require.Equal(t, s.Facets, out.Facets)
}

// Shells that differ by less or more than single precision: crossings all over
// the surface, at angles of 1e-6 and less.
func TestNearlyEqualShells(t *testing.T) {
	s := solid.Icosphere(5, 3)
	for _, a := range []float64{1e-7, 1e-6, 1e-5, 1e-4, 1e-3} {
		m := solid.Merge(s, noisy(s, a, 1))
		out, rep := resolve(t, m, Options{})
		require.Equal(t, 1, rep.ShellsOut)
		// The union lies between the ball and one larger by a few deviations and nudges.
		require.InDelta(t, s.Volume(), out.Volume(), s.Area()*(5*a+1e-4))
		require.Greater(t, out.Volume(), s.Volume()-s.Area()*1e-5)
	}
}

func TestFarFromTheOrigin(t *testing.T) {
	s := solid.Icosphere(5, 3)
	m := solid.Shift(solid.Merge(s, solid.Shift(s, vec(4, 0.3, 0.1)), solid.Shift(s, vec(0, 4, 0))), vec(1500, -900, 700))
	out, _ := resolve(t, m, Options{})
	require.InDelta(t, 1, out.Volume()/resolvedVolume(t, solid.Merge(s, solid.Shift(s, vec(4, 0.3, 0.1)), solid.Shift(s, vec(0, 4, 0)))), 1e-4)
}

func resolvedVolume(t *testing.T, m *mesh.Mesh) float64 {
	out, _ := resolve(t, m, Options{})
	return out.Volume()
}

// A ring pinched so that two of its vertices are joined by two different edges.
func TestEdgeUsedTwice(t *testing.T) {
	m := stltest.Welded(t, meshtest.Shared(t, "profile-touching-edge.stl"), 1)
	require.Equal(t, 2, m.Topology().NonManifoldEdges)
	out, rep := resolve(t, m, Options{})
	require.Equal(t, 1, rep.ShellsOut)
	require.InDelta(t, m.Volume(), out.Volume(), 0.01) // 2264 mm3; 0.1 um over the touching faces' 40 mm2
}

func TestFacetsWithoutAreaAreOpened(t *testing.T) {
	m := solid.Box(vec(0, 0, 0), vec(1, 1, 1))
	// A vertex in the middle of an edge of facet 0, and a flat facet over that edge.
	u, v, w := m.Facets[0][0], m.Facets[0][1], m.Facets[0][2]
	mid := int32(len(m.Vertices))
	m.Vertices = append(m.Vertices, m.Vertices[u].Add(m.Vertices[v]).Mul(0.5))
	m.Facets[0] = [3]int32{u, mid, w}
	m.Facets = append(m.Facets, [3]int32{mid, v, w}, [3]int32{u, v, mid})
	require.True(t, m.Topology().Closed())
	out, rep := resolve(t, m, Options{})
	require.Positive(t, rep.Touches)
	require.InDelta(t, 1, out.Volume(), nudgedMM3)
}
