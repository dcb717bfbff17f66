package grow

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region"
)

func v(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// filled is one allowance for all facets.
func filled(m *mesh.Mesh, a float64) []float64 { return slices.Repeat([]float64{a}, len(m.Facets)) }

// grown grows m and requires that no stock is missing.
func grown(t testing.TB, m *mesh.Mesh, a []float64, opt Options) *mesh.Mesh {
	t.Helper()
	r, err := Grow(context.Background(), m, m.Topology(), a, opt)
	require.NoError(t, err)
	require.Empty(t, r.Needles)
	return m.WithVertices(r.Vertices)
}

// bySkin sets the allowances of a part built along +z.
func bySkin(t testing.TB, m *mesh.Mesh, up, vertical, down float64) []float64 {
	t.Helper()
	s, err := region.Classify(m, m.Topology(), region.Options{BuildDir: v(0, 0, 1), VerticalFrom: 60 * s1.Degree})
	require.NoError(t, err)
	a := make([]float64, len(m.Facets))
	for f, k := range s.Skin {
		a[f] = [...]float64{region.Upskin: up, region.Vertical: vertical, region.Downskin: down}[k]
	}
	return a
}

// Plane-faced bodies come out to rounding: 1e-9 relative leaves room for the
// cube of the scale and the sum over facets.
const exact = 1e-9

func requireVolume(t *testing.T, want float64, m *mesh.Mesh) {
	t.Helper()
	require.InEpsilon(t, want, m.Volume(), exact)
}

func TestBoxWithUnequalSkins(t *testing.T) {
	m := solid.Box(v(0, 0, 0), v(20, 10, 5))
	g := grown(t, m, bySkin(t, m, 0.05, 0.08, 0.15), Options{})
	requireVolume(t, 1065.09312, g) // references.md 7.2
	lo, hi := g.Bounds()
	require.InDelta(t, 0, lo.Sub(v(-0.08, -0.08, -0.15)).Norm(), 1e-14)
	require.InDelta(t, 0, hi.Sub(v(20.08, 10.08, 5.05)).Norm(), 1e-14)

	requireVolume(t, 1071.408, grown(t, m, filled(m, 0.1), Options{}))
}

// dual returns the polyhedron with a corner over every facet of m, its faces fanned.
func dual(m *mesh.Mesh) *mesh.Mesh {
	d := &mesh.Mesh{}
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		d.Vertices = append(d.Vertices, a.Add(b).Add(c).Mul(1.0/3))
	}
	topo := m.Topology()
	for _, c0 := range firstCorners(m) {
		var ring []int32
		for c := c0; ; {
			ring = append(ring, c/3)
			c = topo.Twin[mesh.Prev(c)] // the next corner counterclockwise
			if c == c0 {
				break
			}
		}
		for k := 1; k+1 < len(ring); k++ {
			d.Facets = append(d.Facets, [3]int32{ring[0], ring[k], ring[k+1]})
		}
	}
	return d
}

// firstCorners returns one corner of every vertex.
func firstCorners(m *mesh.Mesh) []int32 {
	in := m.Incidence()
	var c []int32
	for v := range m.Vertices {
		c = append(c, in.Of(int32(v))[0])
	}
	return c
}

// unitEdges scales m so that the edges have length 1; all edges between
// different planes are alike.
func unitEdges(m *mesh.Mesh) *mesh.Mesh {
	short := math.Inf(1)
	for f := range m.Facets {
		for k := range 3 {
			short = min(short, m.Corner(f, k).Distance(m.Corner(f, (k+1)%3)))
		}
	}
	return solid.Map(m, func(p r3.Vector) r3.Vector { return p.Mul(1 / short) })
}

// Mitred Platonic solids, edge 1, allowance 0.1: V ((r+d)/r)^3 and the surface, references.md 7.1.
func TestPlatonicSolids(t *testing.T) {
	tetra := solid.Tetrahedron(v(1, 1, 1), v(1, -1, -1), v(-1, 1, -1), v(-1, -1, 1))
	cube := solid.Box(v(0, 0, 0), v(1, 1, 1))
	octa := octahedron()
	icosa := solid.Icosphere(1, 0)
	for _, c := range []struct {
		name            string
		m               *mesh.Mesh
		volume, surface float64 // of the unit solid
		mitredV         float64
		mitredS         float64
	}{
		{"tetrahedron", tetra, 0.1178511302, 1.7320508076, 0.3897654312, 3.8447992762},
		{"cube", cube, 1, 6, 1.728, 8.64},
		{"octahedron", octa, 0.4714045208, 3.4641016151, 0.9095956993, 5.3690039869},
		{"dodecahedron", dual(icosa), 7.6631189606, 20.6457288071, 9.9186523290, 24.5204414704},
		{"icosahedron", icosa, 2.1816949906, 8.6602540378, 3.1673642539, 11.1036717897}, // S ((r+d)/r)^2; the table read misprints the seventh decimal
	} {
		t.Run(c.name, func(t *testing.T) {
			m := unitEdges(c.m)
			require.InEpsilon(t, c.volume, m.Volume(), exact)
			require.InEpsilon(t, c.surface, m.Area(), exact)
			g := grown(t, m, filled(m, 0.1), Options{})
			require.InEpsilon(t, c.mitredV, g.Volume(), exact)
			require.InEpsilon(t, c.mitredS, g.Area(), exact)
		})
	}
}

func octahedron() *mesh.Mesh {
	o := &mesh.Mesh{Vertices: []r3.Vector{v(1, 0, 0), v(-1, 0, 0), v(0, 1, 0), v(0, -1, 0), v(0, 0, 1), v(0, 0, -1)}}
	for _, z := range []int32{4, 5} {
		ring := []int32{0, 2, 1, 3}
		for i := range ring {
			a, b := ring[i], ring[(i+1)%4]
			if z == 5 {
				a, b = b, a
			}
			o.Facets = append(o.Facets, [3]int32{a, b, z})
		}
	}
	return o
}

// Every face of the corner tetrahedron by its own amount, references.md 7.3.
func TestCornerTetrahedronWithUnequalFaces(t *testing.T) {
	m := solid.Tetrahedron(v(0, 0, 0), v(1, 0, 0), v(0, 1, 0), v(0, 0, 1))
	a := make([]float64, 4)
	for f := range m.Facets {
		switch n := m.FacetNormal(f); {
		case n.X < -0.9:
			a[f] = 0.02
		case n.Y < -0.9:
			a[f] = 0.03
		case n.Z < -0.9:
			a[f] = 0.05
		default:
			a[f] = 0.04
		}
	}
	// The slanted corners are 5.2 inradii from the middle, so their mitres are long.
	g := grown(t, m, a, Options{MitreLimit: 10})
	const s = 1.1692820323
	requireVolume(t, 0.2664443885, g)
	require.InEpsilon(t, s*s*s/6, g.Volume(), 1e-9)
	require.InEpsilon(t, s*math.Sqrt2, longestEdge(g), 1e-9)

	requireVolume(t, 0.5328909853, grown(t, m, filled(m, 0.1), Options{MitreLimit: 10}))
}

func longestEdge(m *mesh.Mesh) (l float64) {
	for f := range m.Facets {
		for k := range 3 {
			l = max(l, m.Corner(f, k).Distance(m.Corner(f, (k+1)%3)))
		}
	}
	return l
}

// Round bodies converge to their closed forms (references.md 7.2, d = 0.1) with
// the square of the facet size. A facet of a tessellated curve lies inside it
// by its chord error, which growing keeps, so the volume added is compared.
func TestRoundBodiesConverge(t *testing.T) {
	for _, c := range []struct {
		name  string
		want  float64 // volume added
		build func(level int) *mesh.Mesh
	}{
		{"sphere", 4315.7147367816 - 4188.7902047864, func(l int) *mesh.Mesh { return solid.Icosphere(10, 3+l) }},
		{"torus", 1896.9379658894 - 1776.5287921961, func(l int) *mesh.Mesh { return solid.Torus(10, 3, 40<<l, 24<<l) }},
		{"capsule", 426.6953030008 - 395.8406743523, func(l int) *mesh.Mesh { return solid.Capsule(3, 10, 32<<l, 8<<l) }},
		{"cylinder", 1650.5990633814 - 1570.7963267949, func(l int) *mesh.Mesh { return solid.Cylinder(5, 20, 32<<l) }},
		{"tube", 1116.8990202042 - 1005.3096491487, func(l int) *mesh.Mesh { return solid.Tube(5, 3, 20, 32<<l) }},
		{"cone", 343.2903115579 - 314.1592653590, func(l int) *mesh.Mesh { return solid.Cone(5, 12, 32<<l) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var off [3]float64
			for l := range off {
				m := c.build(l)
				off[l] = (grown(t, m, filled(m, 0.1), Options{}).Volume()-m.Volume())/c.want - 1
			}
			require.Less(t, math.Abs(off[2]), 1e-3)
			for l := range 2 {
				order := math.Log2(math.Abs(off[l] / off[l+1]))
				require.InDelta(t, 2, order, 0.35, "errors %v", off)
			}
		})
	}
}

// At an edge of dihedral angle D the mitre is d / sin(D/2), references.md 7.4.
func TestMitreLength(t *testing.T) {
	for _, c := range []struct{ degrees, length float64 }{{90, 1.41421}, {30, 3.86370}, {120, 1.154701}, {170, 1.00382}} {
		w := c.degrees / 2 * math.Pi / 180
		x, y := 10*math.Cos(w), 10*math.Sin(w)
		m := solid.Extrude([]r3.Vector{{}, v(-x, y, 0), v(-x-9, y, 0), v(-x-9, -y, 0), v(-x, -y, 0)}, v(-x, 0, 0), 5)
		require.Positive(t, m.Volume())
		g := grown(t, m, filled(m, 0.1), Options{MitreLimit: 8})
		_, hi := g.Bounds()
		require.InDelta(t, 0.1*c.length, hi.X, 1e-6)
		require.InDelta(t, 0.1/math.Sin(w), hi.X, 1e-12)
	}
}

// A bore shrinks by twice the allowance, flats and all.
func TestTubeBore(t *testing.T) {
	m := solid.Tube(5, 3, 20, 64)
	g := grown(t, m, filled(m, 0.1), Options{})
	lo := math.Inf(1)
	for _, p := range g.Vertices {
		lo = min(lo, math.Hypot(p.X, p.Y))
	}
	// The corners of the 64-gon lie R on the circle; its flats move 0.1, so the
	// corners move 0.1/cos(pi/64): 0.12 um more.
	require.InDelta(t, 3-0.1/math.Cos(math.Pi/64), lo, 1e-12)
}
