package region

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

var up = r3.Vector{Z: 1}

func classify(t testing.TB, m *mesh.Mesh, opt Options) *Sorting {
	t.Helper()
	if opt.BuildDir == (r3.Vector{}) {
		opt.BuildDir = up
	}
	s, err := Classify(m, m.Topology(), opt)
	require.NoError(t, err)
	return s
}

// One facet of each normal; the table is references.md section 1.
func TestSkinOfNormals(t *testing.T) {
	const exact, close9 = 0, 1e-9
	for _, c := range []struct {
		n     r3.Vector
		skin  Skin
		theta float64 // degrees
		tol   float64
	}{
		{r3.Vector{Z: 1}, Upskin, 0, exact},
		{r3.Vector{Z: -1}, Downskin, 0, exact},
		{r3.Vector{X: 1}, Vertical, 90, exact},
		{r3.Vector{X: 1, Z: -1}, Downskin, 45, close9},
		{r3.Vector{Y: 0.5, Z: math.Sqrt(3) / 2}, Upskin, 30, close9},
		// A plane at the limit itself is vertical, whichever way its cosine is rounded.
		{r3.Vector{Y: math.Sqrt(3) / 2, Z: 0.5}, Vertical, 60, close9},
		{r3.Vector{Y: math.Sqrt(3) / 2, Z: -0.5}, Vertical, 60, close9},
		{r3.Vector{Y: float64(float32(math.Sqrt(3) / 2)), Z: 0.5}, Vertical, 60, 1e-5}, // corners of single precision
	} {
		u := c.n.Ortho()
		m := &mesh.Mesh{Vertices: []r3.Vector{{}, u, c.n.Cross(u)}, Facets: [][3]int32{{0, 1, 2}}}
		s := classify(t, m, Options{VerticalFrom: 60 * s1.Degree})
		if s.Skin[0] != c.skin {
			t.Errorf("skin of normal %v = %v, want %v", c.n, s.Skin[0], c.skin)
		}
		if got := s.Inclination[0].Degrees(); math.Abs(got-c.theta) > c.tol {
			t.Errorf("inclination of normal %v = %v degrees, want %v", c.n, got, c.theta)
		}
	}
}

// Sphere: the share of each skin is (1-cos T)/2, cos T, (1-cos T)/2.
func TestSphereShares(t *testing.T) {
	m := solid.Icosphere(10, 6) // facets about 0.16 mm: 0.9 degrees
	for _, c := range []struct{ limit, each, vertical float64 }{
		{45, 0.146446609, 0.707106781},
		{30, 0.066987298, 0.866025404},
		{60, 0.25, 0.5},
	} {
		s := classify(t, m, Options{VerticalFrom: s1.Angle(c.limit) * s1.Degree})
		a, all := s.Areas(m), m.Area()
		// A facet belongs to one skin whole, so the border wavers by half a
		// facet, 0.45 degrees; over the circle that averages out to a tenth.
		const tol = 0.001
		require.InDelta(t, c.each, a[Upskin]/all, tol)
		require.InDelta(t, c.each, a[Downskin]/all, tol)
		require.InDelta(t, c.vertical, a[Vertical]/all, tol)
		require.Zero(t, a[Platform])
	}
}

func TestConeSide(t *testing.T) {
	const n = 360
	m := solid.Cone(5, 12, n)
	s := classify(t, m, Options{VerticalFrom: 70 * s1.Degree})
	// A facet of the n-gon pyramid stands on the apothem, R cos(pi/n).
	want := math.Atan2(12, 5*math.Cos(math.Pi/n)) * 180 / math.Pi
	require.InDelta(t, 67.380135, want, 1e-3)
	for f := range m.Facets {
		if m.FacetNormal(f).Z > 0 {
			require.Equal(t, Upskin, s.Skin[f])
			require.InDelta(t, want, s.Inclination[f].Degrees(), 1e-9)
		} else {
			require.Equal(t, Downskin, s.Skin[f])
		}
	}
}

// lumpy is a voxel-born body whose skins speckle.
func lumpy() *mesh.Mesh {
	ball := func(x, y, z, r float64) solid.Body {
		return func(p r3.Vector) float64 { return p.Distance(r3.Vector{X: x, Y: y, Z: z}) - r }
	}
	b := solid.Blend(1.5, ball(0, 0, 0, 4), ball(5, 1, 2, 3), ball(1, 4, 5, 2.5))
	waves := func(p r3.Vector) float64 { return b(p) + 0.06*math.Sin(4*p.X)*math.Sin(4*p.Y)*math.Sin(4*p.Z) }
	return solid.Implicit(waves, r3.Vector{X: -6, Y: -6, Z: -6}, r3.Vector{X: 10, Y: 9, Z: 10}, 0.5)
}

func TestReversingSwapsUpAndDown(t *testing.T) {
	m := lumpy()
	for _, island := range []float64{0, 0.5} {
		for _, b := range []r3.Vector{up, {X: 1, Y: 2, Z: -0.5}} {
			s := classify(t, m, Options{BuildDir: b, VerticalFrom: 60 * s1.Degree, MinIslandMM2: island})
			r := classify(t, m, Options{BuildDir: b.Mul(-1), VerticalFrom: 60 * s1.Degree, MinIslandMM2: island})
			swap := [...]Skin{Upskin: Downskin, Vertical: Vertical, Downskin: Upskin}
			for f := range m.Facets {
				require.Equal(t, swap[s.Skin[f]], r.Skin[f], "facet %d", f)
				require.Equal(t, s.Inclination[f], r.Inclination[f])
			}
		}
	}
}

// shuffled returns m with facets, corners and vertices in another order, and
// where each facet went.
func shuffled(m *mesh.Mesh, rnd *rand.Rand) (*mesh.Mesh, []int) {
	vp, fp := rnd.Perm(len(m.Vertices)), rnd.Perm(len(m.Facets))
	out := &mesh.Mesh{Vertices: make([]r3.Vector, len(m.Vertices)), Facets: make([][3]int32, len(m.Facets))}
	for v, p := range m.Vertices {
		out.Vertices[vp[v]] = p
	}
	for f, c := range m.Facets {
		k := rnd.Intn(3)
		out.Facets[fp[f]] = [3]int32{int32(vp[c[k]]), int32(vp[c[(k+1)%3]]), int32(vp[c[(k+2)%3]])}
	}
	return out, fp
}

func TestFacetOrderDoesNotMatter(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	torus := solid.Torus(10, 3, 40, 24) // symmetric: areas and borders tie
	for name, m := range map[string]*mesh.Mesh{"lumpy": lumpy(), "torus": torus} {
		for _, island := range []float64{0.05, 0.5, 8} {
			opt := Options{BuildDir: r3.Vector{X: 0.3, Y: 0.2, Z: 1}, VerticalFrom: 50 * s1.Degree, MinIslandMM2: island}
			want := classify(t, m, opt)
			for range 3 {
				o, at := shuffled(m, rnd)
				got := classify(t, o, opt)
				require.Equal(t, want.Islands, got.Islands)
				for f := range m.Facets {
					require.Equal(t, want.Skin[f], got.Skin[at[f]], "%s, island %g", name, island)
				}
			}
		}
	}
}

// patchAreas is an independent count of patches by flooding.
func patchAreas(m *mesh.Mesh, skin []Skin) (areas []float64) {
	topo, seen := m.Topology(), make([]bool, len(m.Facets))
	for f := range m.Facets {
		if seen[f] {
			continue
		}
		seen[f] = true
		a, stack := 0.0, []int{f}
		for len(stack) > 0 {
			g := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			a += m.FacetArea(g)
			for k := range 3 {
				if n := int(topo.Twin[3*g+k]) / 3; skin[n] == skin[g] && !seen[n] {
					seen[n] = true
					stack = append(stack, n)
				}
			}
		}
		areas = append(areas, a)
	}
	return areas
}

func TestIslandsAreGone(t *testing.T) {
	m := lumpy()
	raw := classify(t, m, Options{VerticalFrom: 60 * s1.Degree})
	speckle := 0
	for _, a := range patchAreas(m, raw.Skin) {
		if a < 0.5 {
			speckle++
		}
	}
	require.Greater(t, speckle, 10, "the body must speckle for the test to mean anything")
	s := classify(t, m, Options{VerticalFrom: 60 * s1.Degree, MinIslandMM2: 0.5})
	for _, a := range patchAreas(m, s.Skin) {
		require.GreaterOrEqual(t, a, 0.5-1e-6)
	}
	require.Positive(t, s.Islands)
	changed := 0.0
	for f := range m.Facets {
		if s.Skin[f] != raw.Skin[f] {
			changed += m.FacetArea(f)
		}
	}
	// A facet may change more than once, never less than the net change.
	require.GreaterOrEqual(t, s.IslandAreaMM2, changed-1e-6)
	require.Less(t, changed, 0.1*m.Area())
}

// squares is a flat sheet of n x n unit squares.
func squares(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for y := 0; y <= n; y++ {
		for x := 0; x <= n; x++ {
			m.Vertices = append(m.Vertices, r3.Vector{X: float64(x), Y: float64(y)})
		}
	}
	for y := range n {
		for x := range n {
			a := int32(y*(n+1) + x)
			m.Facets = append(m.Facets, [3]int32{a, a + 1, a + int32(n) + 2}, [3]int32{a, a + int32(n) + 2, a + int32(n) + 1})
		}
	}
	return m
}

// Two islands alike, each with its longest border to the other: the one that
// comes first in space joins the other, in whatever order the facets stand.
func TestLikeIslandsJoinInOrderOfSpace(t *testing.T) {
	const n = 6
	m := squares(n)
	skin := make([]Skin, len(m.Facets))
	for f := range skin {
		p := m.Centroid(f)
		switch {
		case p.X < 3 && p.Y < 1:
			skin[f] = Upskin
		case p.X < 3 && p.Y < 2:
			skin[f] = Downskin
		default:
			skin[f] = Vertical
		}
	}
	rnd := rand.New(rand.NewSource(4))
	for range 20 {
		o, at := shuffled(m, rnd)
		s := &Sorting{Skin: make([]Skin, len(skin)), Inclination: make([]s1.Angle, len(skin))}
		for f, k := range skin {
			s.Skin[at[f]] = k
		}
		newPatches(o, o.Topology(), s).merge(4) // each is 3 mm2, the two together 6
		for f, k := range skin {
			if k == Upskin {
				k = Downskin
			}
			require.Equal(t, k, s.Skin[at[f]])
		}
	}
}

// Islands join by border, not by size: a small square inside a larger one
// joins what surrounds it, and a strip at a border the side it lies along.
func TestIslandJoinsLongestBorder(t *testing.T) {
	const n = 10
	m := squares(n)
	s := &Sorting{Skin: make([]Skin, len(m.Facets)), Inclination: make([]s1.Angle, len(m.Facets))}
	set := func(x, y int, k Skin) { s.Skin[2*(y*n+x)], s.Skin[2*(y*n+x)+1] = k, k }
	for y := range n {
		for x := 5; x < n; x++ {
			set(x, y, Vertical)
		}
	}
	set(2, 2, Downskin) // inside upskin
	set(7, 7, Downskin) // inside vertical
	set(5, 4, Downskin) // one side to upskin, three to vertical
	set(0, 9, unknown)  // corner, no skin of its own
	newPatches(m, m.Topology(), s).merge(1.5)
	at := func(x, y int) Skin { return s.Skin[2*(y*n+x)] }
	require.Equal(t, Upskin, at(2, 2))
	require.Equal(t, Vertical, at(7, 7))
	require.Equal(t, Vertical, at(5, 4))
	require.Equal(t, Upskin, at(0, 9))
	require.Equal(t, 3, s.Islands)
	require.InDelta(t, 3, s.IslandAreaMM2, 1e-9)
}

func TestPlatformOnlyWhenAsked(t *testing.T) {
	m := solid.Merge(
		solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}),
		solid.Box(r3.Vector{X: 30, Z: 0.02}, r3.Vector{X: 40, Y: 10, Z: 5}),
		solid.Box(r3.Vector{X: 50, Z: 1}, r3.Vector{X: 60, Y: 10, Z: 5}),
	)
	s := classify(t, m, Options{VerticalFrom: 60 * s1.Degree})
	require.Equal(t, [4]float64{400, 659, 400, 0}, roundAll(s.Areas(m)))
	s = classify(t, m, Options{VerticalFrom: 60 * s1.Degree, OnPlatform: true, PlatformTolMM: 0.05})
	require.Equal(t, [4]float64{400, 659, 100, 300}, roundAll(s.Areas(m)))
	// The faces of 100 mm2 join the walls around them, except the one that stands on the platform.
	s = classify(t, m, Options{VerticalFrom: 60 * s1.Degree, OnPlatform: true, PlatformTolMM: 0.05, MinIslandMM2: 150})
	require.Equal(t, [4]float64{200, 959, 0, 300}, roundAll(s.Areas(m)))
}

// A facet that stands on the platform with a corner only is no contact.
func TestPlatformHoldsWholeFacets(t *testing.T) {
	m := solid.Cone(5, 12, 36)
	s := classify(t, m, Options{BuildDir: r3.Vector{Z: -1}, VerticalFrom: 70 * s1.Degree, OnPlatform: true, PlatformTolMM: 0.05})
	a := s.Areas(m)
	require.Zero(t, a[Platform])
	require.Positive(t, a[Downskin])
}

func roundAll(a [4]float64) [4]float64 {
	for i := range a {
		a[i] = math.Round(a[i])
	}
	return a
}

func TestFlatFacetsTakeTheirNeighboursSkin(t *testing.T) {
	// A box whose upper face carries a vertex on a diagonal's middle twice: two facets of no area.
	m := solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})
	for f := range m.Facets {
		if m.FacetNormal(f).Z < 0.5 {
			continue
		}
		c := m.Facets[f]
		mid := m.Corner(f, 0).Add(m.Corner(f, 1)).Mul(0.5)
		v := int32(len(m.Vertices))
		m.Vertices = append(m.Vertices, mid)
		m.Facets[f] = [3]int32{c[0], v, c[2]}
		m.Facets = append(m.Facets, [3]int32{v, c[1], c[2]}, [3]int32{c[0], c[1], v})
		break
	}
	topo := m.Topology()
	require.True(t, topo.Closed())
	s, err := Classify(m, topo, Options{BuildDir: up, VerticalFrom: 60 * s1.Degree})
	require.NoError(t, err)
	require.Equal(t, 1, s.Flat)
	flat := len(m.Facets) - 1
	require.Contains(t, []Skin{Upskin, Vertical}, s.Skin[flat])
	g := topo.Twin[3*flat] / 3 // across the long edge
	require.Equal(t, s.Skin[g], s.Skin[flat])
	require.Equal(t, s.Inclination[g], s.Inclination[flat])
	require.Zero(t, s.Islands)
}

func TestRotatingPartAndDirectionTogether(t *testing.T) {
	m := lumpy()
	opt := Options{VerticalFrom: 60 * s1.Degree, MinIslandMM2: 0.5, BuildDir: up}
	want := classify(t, m, opt)
	rot := solid.Rotation{Axis: r3.Vector{X: 1, Y: 2, Z: 3}, Angle: 0.7}
	opt.BuildDir = rot.Apply(up)
	got := classify(t, solid.Move(m, rot, r3.Vector{X: 100}), opt)
	require.Equal(t, want.Skin, got.Skin)
}

func TestWrongOptions(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 1, Y: 1, Z: 1})
	for _, b := range []r3.Vector{{}, {X: math.NaN()}, {X: math.Inf(1)}} {
		_, err := Classify(m, m.Topology(), Options{BuildDir: b})
		require.ErrorIs(t, err, ErrBuildDir)
	}
	for _, o := range []Options{
		{VerticalFrom: -1}, {VerticalFrom: 91 * s1.Degree}, {MinIslandMM2: -1}, {PlatformTolMM: math.NaN()},
	} {
		o.BuildDir = up
		_, err := Classify(m, m.Topology(), o)
		require.Error(t, err)
	}
}

func BenchmarkClassify(b *testing.B) {
	for _, level := range []int{4, 7, 8} {
		m := solid.Icosphere(20, level)
		topo := m.Topology()
		b.Run(fmt.Sprintf("%d facets", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Classify(m, topo, Options{BuildDir: up, VerticalFrom: 60 * s1.Degree, MinIslandMM2: 0.5}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A facet of no area between upskin facets of different inclination has that
// of the one across its longest edge.
func TestFlatFacetsHaveTheInclinationAcrossTheirLongestEdge(t *testing.T) {
	// Slopes of 10 and 45 degrees on either side of a ridge; the flat facet lies
	// on the ridge with its two short edges on the steep side.
	low := r3.Vector{X: 5, Y: 10, Z: -10 * math.Tan(10*math.Pi/180)}
	m := &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 10}, {X: 5, Y: -10, Z: -10}, low, {X: 5}},
		Facets:   [][3]int32{{0, 1, 3}, {2, 4, 0}, {2, 1, 4}, {1, 0, 4}},
	}
	s, err := Classify(m, m.Topology(), Options{BuildDir: up, VerticalFrom: 60 * s1.Degree})
	require.NoError(t, err)
	require.Equal(t, 1, s.Flat)
	require.Equal(t, []Skin{Upskin, Upskin, Upskin, Upskin}, s.Skin)
	require.InDelta(t, 10, s.Inclination[3].Degrees(), 1e-9)
	require.InDelta(t, 45, s.Inclination[1].Degrees(), 1e-9)
}
