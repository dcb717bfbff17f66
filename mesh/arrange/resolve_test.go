package arrange

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// roundMM3 is how much volume rounding to single precision may change on parts
// of about 20 mm and 1000 mm2: half a step of 1e-6 mm over the area.
const roundMM3 = 1e-3

func TestCleanInputComesBackBitForBit(t *testing.T) {
	m := solid.Icosphere(5, 3)
	m.RoundToFloat32()
	out, rep := resolve(t, m, Options{})
	require.Equal(t, m.Vertices, out.Vertices)
	require.Equal(t, m.Facets, out.Facets)
	require.Zero(t, rep.Rounds)
	require.Zero(t, rep.Crossings+rep.Touches)
}

func TestTwoBoxesOverlap(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(10, 10, 10)), solid.Box(vec(3, 4, 5), vec(12, 13, 14)))
	out, rep := resolve(t, m, Options{})
	require.InDelta(t, 1000+9*9*9-7*6*5, out.Volume(), roundMM3)
	require.InDelta(t, 600+6*81-2*(7*6+6*5+7*5), out.Area(), roundMM3)
	require.Equal(t, 1, rep.ShellsOut)
	require.Equal(t, 2, rep.ShellsIn)
	// One corner of each box lies in the other.
	require.Equal(t, 0, rep.VerticesMoved)
	require.NotContains(t, out.Vertices, vec(10, 10, 10))
	require.NotContains(t, out.Vertices, vec(3, 4, 5))
	require.Contains(t, out.Vertices, vec(0, 0, 0))
}

func TestFacetsThatCrossNothingStay(t *testing.T) {
	a := solid.Icosphere(5, 4)
	m := solid.Merge(a, solid.Shift(a, vec(8.1, 0.7, 0.3)))
	m.RoundToFloat32()
	out, rep := resolve(t, m, Options{})
	pieces := make([]int, len(m.Facets))
	same := 0
	for f, p := range rep.Facet {
		pieces[p]++
		o, i := out.Facets[f], m.Facets[p]
		if rep.Vertex[o[0]] == i[0] && rep.Vertex[o[1]] == i[1] && rep.Vertex[o[2]] == i[2] {
			same++
			for k := range 3 {
				require.Equal(t, m.Vertices[i[k]], out.Vertices[o[k]])
			}
		}
	}
	require.Equal(t, len(m.Facets)-rep.CutFacets, same)
	require.Less(t, rep.CutFacets, len(m.Facets)/4)
	require.Equal(t, rep.FacetsAdded, len(out.Facets)-same)
	for p, n := range pieces {
		if n == 0 { // what vanished lies in the other ball
			x, y, z := m.Triangle(p)
			d := x.Add(y).Add(z).Mul(1. / 3)
			require.Less(t, min(d.Norm(), d.Sub(vec(8.1, 0.7, 0.3)).Norm()), 5.01)
		}
	}
}

func TestBoxThroughFace(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(10, 10, 10)), solid.Box(vec(3, 4, 5), vec(5, 6, 14)))
	out, rep := resolve(t, m, Options{})
	require.InDelta(t, 1000+2*2*4, out.Volume(), roundMM3)
	require.Equal(t, 1, rep.ShellsOut)
	// The cut loop floats in the middle of two facets of the large box.
	require.InDelta(t, 600+4*2*4, out.Area(), roundMM3)
}

func TestNestedShells(t *testing.T) {
	outer := solid.Box(vec(0, 0, 0), vec(10, 10, 10))
	inner := solid.Box(vec(3, 4, 5), vec(5, 6, 7))
	out, rep := resolve(t, solid.Merge(outer, inner), Options{})
	require.InDelta(t, 1000, out.Volume(), 1e-9)
	require.Equal(t, 1, rep.ShellsOut)
	require.Equal(t, 12, rep.FacetsRemoved)

	cavity := solid.Merge(outer, solid.Reverse(inner))
	out, rep = resolve(t, cavity, Options{DropVoidsMM3: 1e6, DropVoidsMM: 1e6})
	require.InDelta(t, 992, out.Volume(), 1e-9)
	require.Equal(t, 2, rep.ShellsOut)
	require.Empty(t, rep.Voids, "a hollow of the input is none of cutting")

	island := solid.Merge(cavity, solid.Box(vec(3.5, 4.5, 5.5), vec(4.5, 5.5, 6.5)))
	out, _ = resolve(t, island, Options{})
	require.InDelta(t, 993, out.Volume(), 1e-9)
}

func TestInsideOutIsRefused(t *testing.T) {
	_, _, err := Resolve(context.Background(), solid.Reverse(solid.Box(vec(0, 0, 0), vec(1, 1, 1))), Options{})
	require.ErrorIs(t, err, ErrNothingLeft)
}

func TestOpenSurfaceIsRefused(t *testing.T) {
	m := solid.Box(vec(0, 0, 0), vec(1, 1, 1))
	m.Facets = m.Facets[1:]
	_, _, err := Resolve(context.Background(), m, Options{})
	var open *NotClosedError
	require.ErrorAs(t, err, &open)
	require.Equal(t, 3, open.OpenEdges)
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, _, err := Resolve(ctx, solid.Icosphere(5, 4), Options{})
	require.ErrorIs(t, err, context.Canceled)
}

// Two equal cylinders that cross at right angles: the union is both less
// Steinmetz's body, 16 r^3/3. A polygon of n sides in place of the circle
// lacks (2 pi^2/3)/n^2 of its area; the common body lacks about twice that.
func TestSteinmetz(t *testing.T) {
	const r, l = 3.0, 12.0
	want := 2*math.Pi*r*r*l - 16*r*r*r/3
	last := 0.0
	for _, n := range []int{32, 64, 128} {
		c := solid.Shift(solid.Cylinder(r, l, n), vec(0, 0, -l/2))
		x := solid.Map(c, func(p r3.Vector) r3.Vector { return vec(p.Z, p.X, p.Y) })
		out, rep := resolve(t, solid.Merge(c, x), Options{})
		require.Equal(t, 1, rep.ShellsOut)
		lack := (want - out.Volume()) / want
		require.Positive(t, lack)
		require.Less(t, lack, 7/float64(n*n))
		if last > 0 {
			require.InEpsilon(t, 4, last/lack, 0.05, "the error must fall with n squared")
		}
		last = lack
	}
}

// Three tubes along the axes cross each other: outside and inside walls, with
// points where three facets of different tubes meet.
func TestThreeTubes(t *testing.T) {
	z := solid.Shift(solid.Tube(3, 2, 14, 40), vec(0.013, 0.027, -7.01))
	x := solid.Map(z, func(p r3.Vector) r3.Vector { return vec(p.Z, p.X+0.3, p.Y) })
	y := solid.Map(z, func(p r3.Vector) r3.Vector { return vec(p.Y, p.Z, p.X-0.4) })
	m := solid.Merge(x, y, z)
	out, rep := resolve(t, m, Options{})
	require.Greater(t, rep.Crossings, 100)
	require.Less(t, out.Volume(), m.Volume())
	var places []r3.Vector
	for i := range 400 {
		r := mix(uint64(i) + 99)
		places = append(places, vec(float64(r&0xffff)/0xffff-0.5, float64(r>>16&0xffff)/0xffff-0.5, float64(r>>32&0xffff)/0xffff-0.5).Mul(9))
	}
	requireSameMetal(t, m, out, places, 0.01)
}

// Plates of three directions through each other: every two planes of different
// directions cross, and every three meet in a point. Their number is bounded, at
// the same place for any number of workers.
func TestTangledFacetsAreRefused(t *testing.T) {
	const n = 6 // plates 1 mm thick and 3 mm apart, of 20 x 20 mm
	var plates []*mesh.Mesh
	for i := range n {
		p := solid.Box(vec(-10, -10, 3*float64(i)-8), vec(10, 10, 3*float64(i)-7))
		plates = append(plates, p,
			solid.Map(p, func(p r3.Vector) r3.Vector { return vec(p.Z, p.X, p.Y) }),
			solid.Map(p, func(p r3.Vector) r3.Vector { return vec(p.Y, p.Z, p.X) }))
	}
	m := solid.Merge(plates...)
	out, _ := resolve(t, m, Options{})
	require.InDelta(t, 20*20*20-14*14*14, out.Volume(), 1e-4*m.Area()) // rims in one plane are nudged by 0.1 um

	var want *UnresolvedError
	for _, w := range []int{1, 2, 8} {
		_, _, err := Resolve(t.Context(), m, Options{Workers: w, MaxPoints: n * n * n})
		var stuck *UnresolvedError
		require.ErrorAs(t, err, &stuck)
		require.True(t, stuck.Tangled)
		if want == nil {
			want = stuck
		}
		require.Equal(t, want, stuck, "%d workers", w)
	}
}

func TestSourcesAttributesAndSolidsFollow(t *testing.T) {
	m := solid.Merge(solid.Box(vec(0, 0, 0), vec(10, 10, 10)), solid.Box(vec(3, 4, 5), vec(12, 13, 14)))
	m.Source = make([]int32, 24)
	m.Attributes = make([]uint16, 24)
	for f := range m.Source {
		m.Source[f], m.Attributes[f] = int32(100+f), uint16(7*f)
	}
	m.Solids = []mesh.Solid{{Name: "a", First: 0, Count: 12}, {Name: "b", First: 12, Count: 12}}
	out, rep := resolve(t, m, Options{})
	for f, p := range rep.Facet {
		require.Equal(t, 100+p, out.Source[f])
		require.Equal(t, uint16(7*p), out.Attributes[f])
	}
	require.Len(t, out.Solids, 2)
	require.Equal(t, len(out.Facets), out.Solids[0].Count+out.Solids[1].Count)
	for f := range out.Facets {
		require.Equal(t, f >= out.Solids[1].First, rep.Facet[f] >= 12)
	}
}

func TestWorkersDoNotMatter(t *testing.T) {
	g := averaged(solid.GyroidCube(2.4), 0.4)
	want, rep := resolve(t, g, Options{})
	require.Positive(t, rep.Crossings)
	for _, w := range []int{2, 7} {
		got, r := resolve(t, g, Options{Workers: w})
		require.Equal(t, want, got)
		require.Equal(t, rep, r)
	}
}
