package offset_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/region"
)

// open is the gap that must stay open by the default recipe, mm.
const open = 0.3

func everySkin(um float64) map[region.Skin]float64 {
	return map[region.Skin]float64{region.Upskin: um, region.Vertical: um, region.Downskin: um}
}

// grownGap compensates a part with one allowance for all skins and checks what
// every result promises.
func grownGap(t *testing.T, m *mesh.Mesh, um float64) *offset.Result {
	t.Helper()
	res, err := offset.Compensate(context.Background(), partOf(t, m), jobOf(t, everySkin(um)))
	require.NoError(t, err)
	sound(t, res)
	require.Empty(t, of(res, "bodies_fused"))
	return res
}

// sound checks that the grown mesh is closed, manifold and free of crossings.
func sound(t *testing.T, res *offset.Result) {
	t.Helper()
	require.True(t, res.Grown.Topology().Closed())
	c, err := bvh.New(res.Grown, 2).SelfCrossings(context.Background(), bvh.CrossingOptions{})
	require.NoError(t, err)
	require.Zero(t, c.Total)
}

func of(res *offset.Result, code string) (out []finding.Finding) {
	for _, f := range res.Findings {
		if f.Code == code {
			out = append(out, f)
		}
	}
	return out
}

// missing checks that what is missing most is want, in mm, and where: at a place for which near holds.
func missing(t *testing.T, res *offset.Result, want, tol float64, near func(p r3.Vector) bool) {
	t.Helper()
	fs := of(res, "stock_missing")
	if want == 0 {
		require.Empty(t, fs)
		return
	}
	require.NotEmpty(t, fs)
	worst := fs[0]
	for _, f := range fs {
		require.True(t, f.At == nil || near(*f.At), "%v is no place of the gap", f.At) // the rest beyond the list has no place
		if f.SizeMM > worst.SizeMM {
			worst = f
		}
	}
	require.InDelta(t, want, worst.SizeMM, tol)
	severity := finding.Warning
	if want > 0.02 {
		severity = finding.Error
	}
	require.Equal(t, severity, worst.Severity)
}

// Of a slot 0.5 mm wide each wall may have 0.1 mm.
func TestGapOfSlot(t *testing.T) {
	box := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 6, Z: 4})
	for _, um := range []float64{50, 100, 150, 400} {
		res := grownGap(t, solid.Merge(box, solid.Shift(box, r3.Vector{X: 4.5})), um)
		a := min(um/1000, (0.5-open)/2)
		lo, hi := math.Inf(1), math.Inf(-1) // of the slot
		for _, v := range res.Grown.Vertices {
			if v.X > 3 && v.X < 4.25 {
				hi = max(hi, v.X)
			}
			if v.X > 4.25 && v.X < 6 {
				lo = min(lo, v.X)
			}
		}
		require.InDelta(t, 0.5-2*a, lo-hi, 2e-5, "%g um", um) // the ball that measures is found to 1e-5 of its size
		missing(t, res, um/1000-a, 2e-5, func(p r3.Vector) bool { return p.X >= 3.99 && p.X <= 4.51 })
		require.Zero(t, res.Proof.All.Shortfall.Max.Value)
		// Outside the slot nothing is given up.
		l, h := res.Grown.Bounds()
		require.InDelta(t, -um/1000, l.X, 1e-6)
		require.InDelta(t, 8.5+um/1000, h.X, 1e-6)
	}
}

// A shaft of radius 3 in a bore of 3.4, and a second tube around at 0.35 mm.
func TestGapOfRingsAndNestedTubes(t *testing.T) {
	const n, um = 96, 150
	res := grownGap(t, solid.Merge(solid.Cylinder(3, 10, n), solid.Tube(5, 3.4, 10, n), solid.Tube(7, 5.35, 10, n)), um)
	radius := func(lo, hi float64) (least, most float64) {
		least = math.Inf(1)
		for _, v := range res.Grown.Vertices {
			if r := math.Hypot(v.X, v.Y); r > lo && r < hi {
				least, most = min(least, r), max(most, r)
			}
		}
		return least, most
	}
	_, shaft := radius(2.9, 3.2)
	bore, _ := radius(3.2, 3.6)
	_, mantle := radius(4.9, 5.17)
	outer, _ := radius(5.17, 5.6)
	// Facets of 96 steps lie up to r (1 - cos(pi/96)) = 0.003 inside their circles, on both sides of a gap.
	require.InDelta(t, open, bore-shaft, 0.007)
	require.InDelta(t, open, outer-mantle, 0.007)
	missing(t, res, 0.15-0.025, 0.004, func(p r3.Vector) bool { r := math.Hypot(p.X, p.Y); return r > 2.9 && r < 5.4 })
}

// Two balls 0.3 mm apart keep their gap; where the ball between them is wider
// than 0.3 mm + 2 a, nothing is missing.
func TestGapOfTwoBalls(t *testing.T) {
	ball := solid.Icosphere(5, 5)
	m := solid.Merge(ball, solid.Shift(ball, r3.Vector{X: 10.3}))
	for _, um := range []float64{50, 200} {
		a := um / 1000
		res := grownGap(t, m, um)
		missing(t, res, a, 1e-3, func(p r3.Vector) bool { return math.Abs(p.X-5.15) < 1 })
		// At the angle theta from the axis the ball that touches both has the radius s of (R + s) cos(theta) = 5.15.
		reach := math.Acos(5.15 / (5 + open/2 + a))
		for f := range m.Facets {
			for k := range 3 {
				p := m.Corner(f, k)
				if p.X > 5.15 {
					p.X = 10.3 - p.X
				}
				// A lowered facet of 0.04 rad is lowered whole, and the allowance rises by 0.15 a mm from there.
				if theta := math.Atan2(math.Hypot(p.Y, p.Z), p.X); theta > reach+0.04+a/0.15/5 {
					require.Equal(t, a, res.Allowance[f][k])
				}
			}
		}
		require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, 0.001)
	}
}

// In a V-groove the walls meet higher by a/sin(u/2), and no stock is missing.
func TestGrooveFillsUp(t *testing.T) {
	u := 60 * s1.Degree
	half := 3 * math.Tan(u.Radians()/2)
	m := solid.Extrude([]r3.Vector{
		{X: -half - 3, Y: -3}, {X: half + 3, Y: -3}, {X: half + 3, Y: 3}, {X: half, Y: 3}, {}, {X: -half, Y: 3}, {X: -half - 3, Y: 3},
	}, r3.Vector{Y: -1}, 6)
	for _, um := range []float64{50, 150, 400} {
		res := grownGap(t, m, um)
		missing(t, res, 0, 0, nil)
		require.Empty(t, of(res, "closing_gap"))
		valley := 0
		for i, v := range res.Nominal.Vertices {
			if v.X == 0 && v.Y == 0 {
				require.InDelta(t, um/1000/math.Sin(u.Radians()/2), res.Grown.Vertices[i].Y, 1e-6)
				valley++
			}
		}
		require.Equal(t, 2, valley)
	}
}

// The hole of a torus, 0.8 mm wide, keeps 0.3 mm.
func TestGapOfTorusHole(t *testing.T) {
	res := grownGap(t, solid.Torus(4, 3.6, 128, 64), 400)
	hole := math.Inf(1)
	for _, v := range res.Grown.Vertices {
		hole = min(hole, math.Hypot(v.X, v.Y))
	}
	// A facet is 0.35 mm along the hole and the ring's radius 3.6 mm: the gap varies by 0.35^2/4/3.6 over a facet.
	require.InDelta(t, open/2, hole, 0.01)
	missing(t, res, 0.4-(0.8-open)/2, 0.01, func(p r3.Vector) bool { return math.Hypot(p.X, p.Y) < 1.5 })
}

// In a sheet gyroid of period P and wall t, where sin x cos y + sin y cos z +
// sin z cos x reaches its greatest value 1.5 in a channel, the walls before and
// behind along the body diagonal are the nearest: there the sum is 1.5 sin(2 k s),
// k = 2 pi/P, with the walls' faces at 0.75 k t, so that the channel is
// sqrt(3)/k acos(k t/2) wide. Grown by a it keeps the larger of that less 2 a, and 0.3 mm.
func TestGapOfGyroidSheet(t *testing.T) {
	const period, wall = 2, 0.3
	k := 2 * math.Pi / period
	wide := math.Sqrt(3) / k * math.Acos(k*wall/2)
	one := r3.Vector{X: 1, Y: 1, Z: 1}
	m := solid.Implicit(solid.GyroidSheet(period, wall), one.Mul(-0.25), one.Mul(0.75), 0.09)
	node, along := r3.Vector{X: period / 8., Y: period / 8., Z: period / 8.}, one.Normalize()
	// Facets of 0.09 mm lie up to 0.09^2/8/r inside walls whose radius of curvature r there is 0.25 mm or more, on both sides.
	const tol = 0.009
	ums := []float64{400} // of the gyroid's, the allowance that closes channels
	if *late {
		ums = []float64{50, 150}
	}
	for _, um := range ums {
		res, err := offset.Compensate(t.Context(), partOf(t, m), jobOf(t, everySkin(um)))
		require.NoError(t, err)
		sound(t, res)
		before, after := bvh.New(res.Nominal, 0), bvh.New(res.Grown, 0)
		left, gap := max(open, wide-2*um/1000), 0.0
		for _, d := range []r3.Vector{along, along.Mul(-1)} {
			hit, ok := after.Ray(node, d, 0, period)
			require.True(t, ok)
			gap += hit.T
			hit, ok = before.Ray(node, d, 0, period)
			require.True(t, ok)
			require.InDelta(t, (wide-left)/2, slices.Max(res.Allowance[hit.Facet][:]), tol, "%g um", um)
		}
		require.InDelta(t, left, gap, tol, "%g um", um)
		if um/1000-(wide-left)/2 > tol {
			require.NotEmpty(t, of(res, "stock_missing"), "%g um", um)
		}
	}
}

// chain is n rings of 8 mm, each through the next, that come as near as 0.1 mm.
func chain(n int) *mesh.Mesh {
	var links []*mesh.Mesh
	for i := range n {
		links = append(links, solid.Move(solid.Torus(4, 1, 24, 12), solid.Rotation{Axis: r3.Vector{X: 1}, Angle: s1.Angle(i%2) * 90 * s1.Degree}, r3.Vector{X: 5.9 * float64(i)}))
	}
	return solid.Merge(links...)
}

// Forty links that pass each other at a tenth of a millimetre stay forty, and
// lose stock only where the next link is near.
func TestGapsOfChain(t *testing.T) {
	for _, um := range []float64{50, 150, 400} {
		res := grownGap(t, chain(40), um)
		require.Len(t, res.Grown.Shells(res.Grown.Topology()), 40)
		narrow := of(res, "closing_gap")
		require.Len(t, narrow, 1)
		require.InDelta(t, 0.1, narrow[0].SizeMM, 1e-3)         // rings of flat facets
		missing(t, res, um/1000, 1e-9, func(p r3.Vector) bool { // near the middle of one of the passages, at 2.95 mm + n 5.9 mm
			return r3.Vector{X: math.Remainder(p.X-2.95, 5.9), Y: p.Y, Z: p.Z}.Norm() < 2.5
		})
		require.Nil(t, res.NominalOf, "facet i is facet i")
	}
}

func TestRealChainStaysForty(t *testing.T) {
	res := grownMesh(t, "chain-40-links.stl", 0, everySkin(150))
	sound(t, res)
	require.Len(t, res.Grown.Shells(res.Grown.Topology()), 40)
	require.Empty(t, of(res, "bodies_fused"))
	require.NotEmpty(t, of(res, "closing_gap"))
	require.True(t, slices.IsSorted(res.NominalOf), "facets keep their order; some points are chamfered")
}

// Four bodies 2 um apart keep their faces where they are, bit for bit, and stay four.
func TestTouchingAlmost(t *testing.T) {
	res := grownMesh(t, "floater-four-bodies.stl", 0, everySkin(150))
	sound(t, res)
	require.Len(t, res.Grown.Shells(res.Grown.Topology()), 4)
	narrow := of(res, "closing_gap")
	require.Len(t, narrow, 1)
	require.InDelta(t, 0.002, narrow[0].SizeMM, 1e-4)
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, 0.001)
}

// Bodies that share an edge are one body and grow into one.
func TestTouchingBodiesAreOne(t *testing.T) {
	a := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 4, Z: 4})
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Merge(a, solid.Shift(a, r3.Vector{X: 4, Y: 4}))), jobOf(t, everySkin(150)))
	require.NoError(t, err)
	sound(t, res)
	require.Len(t, res.Grown.Shells(res.Grown.Topology()), 1)
	require.Empty(t, of(res, "bodies_fused"))
	require.Empty(t, of(res, "stock_missing"))
	// Two boxes of 4.3 x 4.3 x 4.3 that overlap in a column of 0.3 x 0.3 mm. Faces in one
	// plane are nudged by up to 0.3 um before bodies are united: 220 mm2 of them here.
	require.InDelta(t, 2*4.3*4.3*4.3-0.3*0.3*4.3, res.GrownMM3, 220*0.3e-3)
}
