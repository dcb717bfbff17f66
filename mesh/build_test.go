package mesh_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func v(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// build welds and mends the soup of closed meshes, and checks what Build promises of every mesh it returns.
func build(t testing.TB, s *mesh.Soup, opt mesh.BuildOptions) (*mesh.Mesh, *mesh.Repairs) {
	t.Helper()
	m, rep, err := mesh.Build(s, opt)
	require.NoError(t, err)
	require.True(t, m.Topology().Closed())
	return m, rep
}

func soupOf(ms ...*mesh.Mesh) *mesh.Soup { return solid.Soup(solid.Merge(ms...)) }

// turned reverses the facets of a soup that pick chooses.
func turned(s *mesh.Soup, pick func(f int) bool) *mesh.Soup {
	c := &mesh.Soup{Corners: append([][3][3]float32(nil), s.Corners...)}
	for f := range c.Corners {
		if pick(f) {
			c.Corners[f][1], c.Corners[f][2] = c.Corners[f][2], c.Corners[f][1]
		}
	}
	return c
}

func all(int) bool { return true }

func TestBuildBox(t *testing.T) {
	m, rep := build(t, soupOf(solid.Box(v(1, 2, 3), v(4, 6, 8))), mesh.BuildOptions{})
	require.Zero(t, rep.Total())
	require.Equal(t, 8, len(m.Vertices))
	require.Equal(t, 60.0, m.Volume())
	require.Equal(t, 94.0, m.Area())
}

func TestBuildUnit(t *testing.T) {
	// 1 x 2 x 3 inches; 25.4 is exact to 1e-16 and small whole numbers are exact in float32.
	m, _ := build(t, soupOf(solid.Box(v(0, 0, 0), v(1, 2, 3))), mesh.BuildOptions{UnitMM: 25.4})
	require.InEpsilon(t, 6*25.4*25.4*25.4, m.Volume(), 1e-14)
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, _, err := mesh.Build(soupOf(solid.Box(v(0, 0, 0), v(1, 2, 3))), mesh.BuildOptions{UnitMM: bad})
		require.ErrorContains(t, err, "unit")
	}
}

func TestBuildMinusZero(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(1, 1, 1)))
	minus := float32(math.Copysign(0, -1))
	for f := 0; f < len(s.Corners); f += 2 {
		for k := range 3 {
			for i, x := range s.Corners[f][k] {
				if x == 0 {
					s.Corners[f][k][i] = minus
				}
			}
		}
	}
	m, rep := build(t, s, mesh.BuildOptions{WeldTolMM: -1})
	require.Zero(t, rep.Total())
	require.Equal(t, 8, len(m.Vertices))
	for _, p := range m.Vertices {
		require.False(t, math.Signbit(p.X) || math.Signbit(p.Y) || math.Signbit(p.Z))
	}
}

func TestBuildRefusesWhatIsNoSurface(t *testing.T) {
	_, _, err := mesh.Build(&mesh.Soup{}, mesh.BuildOptions{})
	require.ErrorIs(t, err, mesh.ErrNoFacets)

	s := soupOf(solid.Box(v(0, 0, 0), v(1, 1, 1)))
	s.Corners[7][1][2] = float32(math.NaN())
	_, _, err = mesh.Build(s, mesh.BuildOptions{})
	require.ErrorContains(t, err, "facet 7: corner 1 is not a finite point")

	// One sheet with two sides, and nothing else.
	sheet := &mesh.Soup{Corners: [][3][3]float32{
		{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, {{0, 0, 0}, {0, 1, 0}, {1, 0, 0}},
	}}
	_, _, err = mesh.Build(sheet, mesh.BuildOptions{})
	require.ErrorIs(t, err, mesh.ErrNoVolume)

	// A point, three times.
	_, _, err = mesh.Build(&mesh.Soup{Corners: make([][3][3]float32, 5)}, mesh.BuildOptions{})
	require.ErrorIs(t, err, mesh.ErrNoVolume)
}

func TestBuildRefusesHole(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(10, 10, 10)))
	lost := s.Corners[5]
	s.Corners = append(s.Corners[:5], s.Corners[6:]...)
	_, rep, err := mesh.Build(s, mesh.BuildOptions{})
	var e *mesh.NotSolidError
	require.ErrorAs(t, err, &e)
	require.Equal(t, 3, e.Open)
	require.Zero(t, e.NonManifold+e.WrongWay)
	require.Equal(t, 3, rep.OpenEdges)
	// The place is the middle of an edge of the facet that is missing.
	onEdge := false
	for k := range 3 {
		p, q := lost[k], lost[(k+1)%3]
		mid := v(float64(p[0]+q[0])/2, float64(p[1]+q[1])/2, float64(p[2]+q[2])/2)
		onEdge = onEdge || e.At == mid
	}
	require.True(t, onEdge, "%v", e.At)
	require.Contains(t, err.Error(), "3 open edges; the first at (")
	require.Contains(t, err.Error(), "close the holes")
}

// A wall that ends on the inside of a box: three facets at each of its edges, one of them open.
func TestBuildRefusesFin(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(10, 10, 10)))
	a, b := s.Corners[0][0], s.Corners[0][1]
	s.Corners = append(s.Corners, [3][3]float32{a, b, {5, 5, 5}})
	_, _, err := mesh.Build(s, mesh.BuildOptions{})
	var e *mesh.NotSolidError
	require.ErrorAs(t, err, &e)
	require.Equal(t, 2, e.Open)
	require.Equal(t, 1, e.NonManifold)
}

// A Moebius band of five quads: every edge within it has two facets, but no winding suits all.
func TestBuildRefusesMoebius(t *testing.T) {
	var s mesh.Soup
	const n = 5
	at := func(i, side int) [3]float32 {
		turn := 2 * math.Pi * float64(i) / n
		w := float64(2*side - 1)
		x := 10 + w*math.Cos(turn/2)
		return [3]float32{float32(x * math.Cos(turn)), float32(x * math.Sin(turn)), float32(w * math.Sin(turn/2))}
	}
	for i := range n {
		p, q, r, u := at(i, 0), at(i, 1), at(i+1, 0), at(i+1, 1)
		if i == n-1 { // closes upside down
			r, u = at(0, 1), at(0, 0)
		}
		s.Corners = append(s.Corners, [3][3]float32{p, r, q}, [3][3]float32{q, r, u})
	}
	_, _, err := mesh.Build(&s, mesh.BuildOptions{})
	var e *mesh.NotSolidError
	require.ErrorAs(t, err, &e)
	require.Positive(t, e.WrongWay)
}

// Facets that are left out leave their run, their attribute and their source number.
func TestBuildBookkeepingOfDroppedFacets(t *testing.T) {
	s := soupOf(solid.Box(v(0, 0, 0), v(2, 2, 2)))
	s.Corners = append(s.Corners[:3:3], append([][3][3]float32{s.Corners[2], {{1, 1, 1}, {1, 1, 1}, {0, 0, 0}}}, s.Corners[3:]...)...)
	s.Attributes = make([]uint16, len(s.Corners))
	for f := range s.Attributes {
		s.Attributes[f] = uint16(100 + f)
	}
	s.Solids = []mesh.Solid{{Name: "a", First: 0, Count: 4}, {Name: "none", First: 4, Count: 0}, {Name: "b", First: 4, Count: 10}}
	m, rep := build(t, s, mesh.BuildOptions{})
	require.Equal(t, 1, rep.Of(mesh.MendDuplicate))
	require.Equal(t, 1, rep.Of(mesh.MendFolded))
	require.Equal(t, []int32{0, 1, 2, 5, 6, 7, 8, 9, 10, 11, 12, 13}, m.Source)
	for f, a := range m.Attributes {
		require.Equal(t, uint16(100+m.Source[f]), a)
	}
	require.Equal(t, []mesh.Solid{{Name: "a", First: 0, Count: 3}, {Name: "none", First: 3, Count: 0}, {Name: "b", First: 3, Count: 9}}, m.Solids)
}

func TestBuildDoesNotTouchTheSoup(t *testing.T) {
	s := turned(soupOf(solid.Box(v(0, 0, 0), v(2, 2, 2))), all)
	s.Attributes = make([]uint16, 12)
	s.Solids = []mesh.Solid{{Name: "x", Count: 12}}
	before := append([][3][3]float32(nil), s.Corners...)
	m, _ := build(t, s, mesh.BuildOptions{})
	require.Equal(t, before, s.Corners)
	m.Attributes[0] = 9
	m.Solids[0].Name = "y"
	require.Zero(t, s.Attributes[0])
	require.Equal(t, "x", s.Solids[0].Name)
}

func TestFindings(t *testing.T) {
	_, rep := build(t, turned(soupOf(solid.Box(v(0, 0, 0), v(2, 2, 2))), all), mesh.BuildOptions{})
	fs := rep.Findings()
	require.Len(t, fs, 1)
	require.Equal(t, "mended", fs[0].Code)
	require.Equal(t, 1, fs[0].Count)
	require.NotNil(t, fs[0].At)
	require.Equal(t, "1 shells turned outside out", fs[0].Message)
}

// Facets handed over while they are read make the same mesh, however many they are and however they come.
func TestBuildWithWelder(t *testing.T) {
	s, _ := ball(5)
	want, err := mesh.BuildWhole(s, mesh.BuildOptions{})
	require.NoError(t, err)
	for _, runs := range [][]int{{}, {1}, {5000, 1, 4096, 7000}, {len(s.Corners)}} {
		w := mesh.NewWelder()
		w.Expect(len(s.Corners))
		var soup mesh.Soup
		for _, n := range append(runs, len(s.Corners)) { // the last run is left to the end
			w.Offer(&soup)
			done := soup.Len()
			soup.Corners = append(soup.Corners, s.Corners[done:min(done+n, len(s.Corners))]...)
		}
		require.Equal(t, len(s.Corners), soup.Len())
		got, err := mesh.BuildWhole(&soup, mesh.BuildOptions{Welder: w})
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
}

func TestBuildWithWelderRefusesWhatIsNoNumber(t *testing.T) {
	s, _ := ball(4)
	s.Corners[4700][1][2] = float32(math.NaN())
	_, _, want := mesh.Build(s, mesh.BuildOptions{})
	w := mesh.NewWelder()
	w.Offer(s)
	_, _, err := mesh.Build(s, mesh.BuildOptions{Welder: w})
	require.Error(t, err)
	require.Equal(t, want, err)
}
