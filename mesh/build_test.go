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

func TestFindings(t *testing.T) {
	_, rep := build(t, turned(soupOf(solid.Box(v(0, 0, 0), v(2, 2, 2))), all), mesh.BuildOptions{})
	fs := rep.Findings()
	require.Len(t, fs, 1)
	require.Equal(t, "mended", fs[0].Code)
	require.Equal(t, 1, fs[0].Count)
	require.NotNil(t, fs[0].At)
	require.Equal(t, "1 shells turned outside out", fs[0].Message)
}
