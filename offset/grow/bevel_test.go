package grow

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

// surfaceOf returns the grown surface on written coordinates, free of crossings.
func surfaceOf(t testing.TB, m *mesh.Mesh, r *Result) *mesh.Mesh {
	t.Helper()
	g := m.WithVertices(append([]r3.Vector(nil), r.Vertices...))
	if s := r.Surface; s != nil {
		g = &mesh.Mesh{Vertices: append([]r3.Vector(nil), s.Vertices...), Facets: s.Facets}
		require.Len(t, s.NominalOf, len(s.Facets))
		require.Len(t, s.Added, len(s.Facets))
	}
	g.RoundToFloat32()
	require.True(t, g.Topology().Closed())
	if crossings(t, g) == 0 {
		return g
	}
	out, _, err := arrange.Resolve(context.Background(), g, arrange.Options{DropVoidsMM: 1, DropVoidsMM3: math.Inf(1)})
	require.NoError(t, err)
	return out
}

// requireStock asks many places of every facet for their distance to the grown
// surface. The tolerance is half of the promise of 1 um; rounding and nudged
// contacts take a tenth of it.
func requireStock(t testing.TB, m, grown *mesh.Mesh, a float64) {
	t.Helper()
	signs, hint := bvh.New(grown, 0).Signs(grown.Incidence()), bvh.NoHint
	const n = 12
	for f := range m.Facets {
		p, q, s := m.Triangle(f)
		for i := range n + 1 {
			for j := range n + 1 - i {
				x := p.Mul(float64(i) / n).Add(q.Mul(float64(j) / n)).Add(s.Mul(float64(n-i-j) / n))
				h, d := signs.Closest(x, hint)
				hint = h.Facet
				require.LessOrEqual(t, d, -a+0.0005, "facet %d lacks stock at %v", f, x)
			}
		}
	}
}

func grow1(t testing.TB, m *mesh.Mesh, a float64) *Result {
	t.Helper()
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, a), Options{})
	require.NoError(t, err)
	return r
}

// The tip of a needle is cut off by a chamfer, and the sides of the needle keep
// their stock up to the tip: four parts of the tip, strips along four edges,
// a lid of two facets over the tip.
func TestNeedleIsChamfered(t *testing.T) {
	m := solid.Cone(0.5, 10, 24)
	r := grow1(t, m, 0.1)
	require.Len(t, r.Needles, 1)
	require.True(t, r.Needles[0].Split)
	require.Equal(t, 1, r.Surface.Split)
	require.Len(t, r.Surface.Facets, len(m.Facets)+4+2)
	require.Zero(t, r.Surface.Gone+r.Surface.Held)
	g := surfaceOf(t, m, r)
	require.Len(t, g.Facets, len(r.Surface.Facets), "nothing crosses")
	requireStock(t, m, g, 0.1)
	// No part goes further than twice the allowance; a mitre would go 20 times as far.
	_, hi := g.Bounds()
	require.LessOrEqual(t, hi.Z, 10.2)
	require.GreaterOrEqual(t, hi.Z, 10.1-1e-6)
}

// The edge of a thin wedge is cut off along its whole length.
func TestKnifeEdgeIsChamfered(t *testing.T) {
	m := solid.Extrude([]r3.Vector{v(0, -0.2, 0), v(8, 0, 0), v(0, 0.2, 0)}, v(2, 0, 0), 5)
	r := grow1(t, m, 0.15)
	require.Len(t, r.Needles, 2)
	require.Equal(t, 2, r.Surface.Split)
	g := surfaceOf(t, m, r)
	requireStock(t, m, g, 0.15)
	_, hi := g.Bounds()
	require.LessOrEqual(t, hi.X, 8.3)
}

// Two facets back to back enclose nothing; what grows around them is a plate as
// thick as twice the allowance.
func TestFoldBecomesAPlate(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []r3.Vector{v(0, 0, 0), v(1, 0, 0), v(0, 1, 0)},
		Facets:   [][3]int32{{0, 1, 2}, {0, 2, 1}},
	}
	r := grow1(t, m, 0.1)
	require.Equal(t, 3, r.Surface.Split)
	g := surfaceOf(t, m, r)
	requireStock(t, m, g, 0.1)
	lo, hi := g.Bounds()
	require.InDelta(t, 0.2, hi.Z-lo.Z, 1e-6)
	// Steiner: a body around a figure of area A and perimeter L has at least
	// 2 a A + pi a2 L / 2 + 4/3 pi a3, and mitred walls make it 2 a A + 2 a2 L and the corners.
	rim := 2 + math.Sqrt2
	require.Greater(t, g.Volume(), 2*0.1*0.5+math.Pi/2*0.01*rim+4.0/3*math.Pi*0.001)
	require.Less(t, g.Volume(), 2*0.1*0.5+2*0.01*rim+3*8*0.001)
}

// Two cones that share the one vertex at their tips each get their own part of it.
func TestVertexOfTwoBodiesIsSplit(t *testing.T) {
	up := solid.Cone(3, 3, 16)
	m := solid.Merge(solid.Shift(up, v(0, 0, -3)), solid.Map(solid.Reverse(up), func(p r3.Vector) r3.Vector { return v(p.X, p.Y, 3-p.Z) }))
	tip := int32(-1)
	for i, p := range m.Vertices {
		if p.Norm() > 1e-9 {
			continue
		}
		if tip < 0 {
			tip = int32(i)
		}
		for f, c := range m.Facets {
			for k := range c {
				if c[k] == int32(i) {
					m.Facets[f][k] = tip
				}
			}
		}
	}
	require.GreaterOrEqual(t, tip, int32(0))
	r := grow1(t, m, 0.1)
	require.Len(t, r.Needles, 1)
	require.Equal(t, 1, r.Surface.Split)
	requireStock(t, m, surfaceOf(t, m, r), 0.1)
}

// A vertex where ridges and grooves alternate has many planes and no move that
// suits all: a star of 14 facets.
func TestVertexWithManyPlanes(t *testing.T) {
	const n = 14
	m := &mesh.Mesh{Vertices: []r3.Vector{v(0, 0, 0), v(0, 0, -6)}}
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		z := 1.6
		if i%2 == 1 {
			z = -1.6
		}
		m.Vertices = append(m.Vertices, v(3*c, 3*s, z))
	}
	for i := range int32(n) {
		a, b := 2+i, 2+(i+1)%n
		m.Facets = append(m.Facets, [3]int32{0, a, b}, [3]int32{1, b, a})
	}
	r := grow1(t, m, 0.15)
	requireStock(t, m, surfaceOf(t, m, r), 0.15)
}

// The parts of a split vertex come to the same bytes whatever the number of workers.
func TestSurfaceForAnyWorkers(t *testing.T) {
	m := solid.LatticeCube(1.8)
	one, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{Workers: 1})
	require.NoError(t, err)
	require.NotNil(t, one.Surface)
	eight, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{Workers: 8})
	require.NoError(t, err)
	require.Equal(t, one, eight)
}

// Narrow facets on zigzag edges turn over; what is merged or held back leaves a
// closed surface none of whose facets near crossings faces against its move.
func TestNothingSweepsBackwards(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{"gyroid": solid.GyroidCube(2), "lattice": solid.LatticeCube(1.2)} {
		m.RoundToFloat32()
		g := newGrower(m, m.Topology(), Options{})
		g.in = m.Incidence()
		require.NoError(t, g.opt.complete(m))
		r := grow1(t, m, 0.15)
		s := r.Surface
		require.Positive(t, s.Gone+s.Held, name)
		near, err := g.nearCrossings(context.Background(), r)
		require.NoError(t, err)
		for f, c := range s.Corners {
			if near[f] && !gone(c) {
				require.False(t, g.backwards(f, s.Vertices[c[0]], s.Vertices[c[1]], s.Vertices[c[2]]), "%s: facet %d", name, f)
			}
		}
		require.True(t, (&mesh.Mesh{Vertices: s.Vertices, Facets: s.Facets}).Topology().OpenEdges == 0)
	}
}
