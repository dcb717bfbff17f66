package offset_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/region"
)

func at(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// holed appends the facets of a face with a round hole between its four corners
// and the points of its rim, both counterclockwise. Each rim edge goes to the
// corner that lies most in its direction.
func holed(m *mesh.Mesh, corners [4]int32, rim []int32) {
	middle := m.Vertices[rim[0]].Add(m.Vertices[rim[len(rim)/2]]).Mul(0.5)
	towards := func(v int32) r3.Vector { return m.Vertices[v].Sub(middle).Normalize() }
	corner := func(v int32) int {
		best := 0
		for k := range corners {
			if towards(corners[k]).Dot(towards(v)) > towards(corners[best]).Dot(towards(v))+1e-9 {
				best = k
			}
		}
		return best
	}
	c := corner(rim[0])
	for i := range rim {
		p, q := rim[i], rim[(i+1)%len(rim)]
		m.Facets = append(m.Facets, [3]int32{corners[c], q, p})
		for next := corner(q); c != next; c = (c + 1) % 4 {
			m.Facets = append(m.Facets, [3]int32{corners[c], corners[(c+1)%4], q})
		}
	}
}

// angleBracket is an angle of 40 x 20 x 26 mm, 6 mm thick, as a CAD program
// would mesh it, with a bore of 8 mm through the foot and one of 6 mm through the upright.
func angleBracket() *mesh.Mesh {
	const n = 48
	m := &mesh.Mesh{}
	v := func(x, y, z float64) int32 {
		p := at(x, y, z)
		for i, q := range m.Vertices {
			if p == q {
				return int32(i)
			}
		}
		m.Vertices = append(m.Vertices, p)
		return int32(len(m.Vertices) - 1)
	}
	flat := func(ps ...int32) {
		for i := 2; i < len(ps); i++ {
			m.Facets = append(m.Facets, [3]int32{ps[0], ps[i-1], ps[i]})
		}
	}
	flat(v(6, 0, 6), v(6, 0, 26), v(0, 0, 26), v(0, 0, 0), v(40, 0, 0), v(40, 0, 6))
	flat(v(6, 20, 6), v(40, 20, 6), v(40, 20, 0), v(0, 20, 0), v(0, 20, 26), v(6, 20, 26))
	flat(v(40, 0, 0), v(40, 20, 0), v(40, 20, 6), v(40, 0, 6))
	flat(v(0, 0, 26), v(6, 0, 26), v(6, 20, 26), v(0, 20, 26))
	var rims [4][]int32 // foot below and above, upright outside and inside, counterclockwise about +z and +x
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		rims[0] = append(rims[0], v(23+4*c, 10+4*s, 0))
		rims[1] = append(rims[1], v(23+4*c, 10+4*s, 6))
		rims[2] = append(rims[2], v(0, 10+3*c, 16+3*s))
		rims[3] = append(rims[3], v(6, 10+3*c, 16+3*s))
	}
	for i := range n {
		j := (i + 1) % n
		flat(rims[0][i], rims[1][i], rims[1][j], rims[0][j])
		flat(rims[2][i], rims[3][i], rims[3][j], rims[2][j])
	}
	holed(m, [4]int32{v(6, 0, 6), v(40, 0, 6), v(40, 20, 6), v(6, 20, 6)}, rims[1])
	holed(m, [4]int32{v(6, 0, 6), v(6, 20, 6), v(6, 20, 26), v(6, 0, 26)}, rims[3])
	slices.Reverse(rims[0])
	slices.Reverse(rims[2])
	holed(m, [4]int32{v(0, 0, 0), v(0, 20, 0), v(40, 20, 0), v(40, 0, 0)}, rims[0])
	holed(m, [4]int32{v(0, 0, 0), v(0, 0, 26), v(0, 20, 26), v(0, 20, 0)}, rims[2])
	m.RoundToFloat32()
	return m
}

// keptOfBracket are its two bores and its underside.
var keptOfBracket = []region.Zone{
	{Name: "foot bore", Shape: region.BoreNear{Point: at(23, 10, 3)}},
	{Name: "upright bore", Shape: region.BoreNear{Point: at(3, 10, 16)}},
	{Name: "underside", Shape: region.PlaneNear{Point: at(35, 10, 0)}},
}

// codes counts findings by code.
func codes(fs []finding.Finding) map[string]int {
	out := map[string]int{}
	for _, f := range fs {
		out[f.Code]++
	}
	return out
}

// Two bores and a face of a bracket are kept: they equal nominal within 1 um
// after growing, and everything else carries its full allowance, since nothing
// blends across the sharp rims.
func TestKeptBoresAndFaceOfBracket(t *testing.T) {
	m := angleBracket()
	topo := m.Topology()
	require.True(t, topo.Closed())
	job := jobOf(t, nil)
	job.Zones = keptOfBracket
	res, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	requireStill(t, res)
	require.InDelta(t, 8, res.KeptChecks[0].Datum.BoreAfter.DiameterMM, 1e-3)
	require.InDelta(t, 6, res.KeptChecks[1].Datum.BoreAfter.DiameterMM, 1e-3)
	require.InDelta(t, -1, res.KeptChecks[2].Datum.PlaneAfter.Normal.Z, 1e-9)
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, 0.001)
	require.LessOrEqual(t, res.Proof.GrownShortfall.Value, 0.001)
	require.NotContains(t, codes(res.Findings), "stock_missing")

	plain, err := offset.Plan(context.Background(), partOf(t, m), jobOf(t, nil))
	require.NoError(t, err)
	var masked float64
	for f := range m.Facets {
		if res.Masked(f) {
			masked += m.FacetArea(f)
			require.Equal(t, [3]float64{}, res.Allowance[f])
			continue
		}
		a := res.FacetMM[f]
		require.Equal(t, [3]float64{a, a, a}, res.Allowance[f])
	}
	// 48-gons: n r2/2 sin(2 pi/n) of the hole, 2 n r sin(pi/n) h of the wall (references.md 7.5).
	gon := func(r float64) float64 { return 24 * r * r * math.Sin(math.Pi/24) }
	wall := func(r float64) float64 { return 96 * r * math.Sin(math.Pi/48) * 6 }
	require.InEpsilon(t, 800-gon(4)+wall(4)+wall(3), masked, 1e-6)
	// All downskin is masked, so it does not set the time any more: upskin does.
	require.Equal(t, region.Downskin, plain.Plan.Governs)
	require.Equal(t, region.Upskin, res.Plan.Governs)
	// Masked faces are dry: their area, and with it the current, is not the bath's.
	require.InEpsilon(t, plain.Plan.Bath.AreaCM2-masked/100, res.Plan.Bath.AreaCM2, 1e-9)
	require.InEpsilon(t, plain.Plan.Bath.CurrentA*res.Plan.Bath.AreaCM2/plain.Plan.Bath.AreaCM2, res.Plan.Bath.CurrentA, 1e-9)
}

func requireStill(t *testing.T, res *offset.Result) {
	t.Helper()
	require.Len(t, res.KeptChecks, len(res.Kept.Zones))
	for _, c := range res.KeptChecks {
		require.True(t, c.Datum.Unchanged, "%s", c.Datum)
		require.LessOrEqual(t, c.Shortfall, 2e-4) // rims slide within half the micrometre
	}
	require.NotContains(t, codes(res.Findings), "kept_changed")
}

// The same on the voxel-born demo part, whose bores end in smooth, rough-meshed
// rims: beyond the blend, as long as the largest allowance over the slope, all
// carry their full allowance.
func TestKeptBoresBlendOutwards(t *testing.T) {
	m := solid.LanderBracket(1.29)
	m.RoundToFloat32()
	job := jobOf(t, nil)
	job.Zones = []region.Zone{{Shape: region.BoreNear{Point: at(-30, 0, 10)}}, {Shape: region.BoreNear{Point: at(0, 0, 54)}}}
	res, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	requireStill(t, res)
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, 0.001)
	kept := &mesh.Mesh{Vertices: m.Vertices}
	for f := range m.Facets {
		if res.Masked(f) {
			kept.Facets = append(kept.Facets, m.Facets[f])
		}
	}
	tree, full := bvh.New(kept, 0), 0
	for f := range m.Facets {
		for c := range 3 {
			// Fronts bend inside facets: two hundredths more than the straight blend.
			if tree.Closest(m.Corner(f, c), bvh.NoHint).Dist > 1.02*0.1928/job.Recipe.Geometry.MaxSlope.Value {
				full++
				require.GreaterOrEqual(t, res.Allowance[f][c], res.FacetMM[f])
			}
		}
	}
	require.Greater(t, full, 2*len(m.Facets), "most of the three corners of a facet")
}

// A grown part from elsewhere is judged by place: kept as it should be, it
// passes; grown as if nothing were kept, each changed face is told, with how much.
func TestVerifyFindsKeptFacesByPlace(t *testing.T) {
	m := angleBracket()
	job := jobOf(t, nil)
	plain, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	job.Zones = keptOfBracket
	right, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	v, err := offset.Verify(context.Background(), partOf(t, m), partOf(t, right.Grown), job, 0.001)
	require.NoError(t, err)
	require.NotContains(t, codes(v.Findings), "kept_changed")
	v, err = offset.Verify(context.Background(), partOf(t, m), partOf(t, plain.Grown), job, 0.001)
	require.NoError(t, err)
	require.Equal(t, 3, codes(v.Findings)["kept_changed"])
	// An upright bore has the allowance of vertical faces all around, 155.8 um;
	// corners of a 48-gon move by 1/cos(pi/48) of that, a fifth of a hundredth more.
	require.InDelta(t, -2*0.1558, v.KeptChecks[0].Datum.LargerMM, 0.001)
	require.InDelta(t, 0.1928, v.KeptChecks[2].Datum.ShiftMM, 0.001)
}

// Stock stands in place of the allowance, is proved against its depth, and its
// mass counts; too little of it is told.
func TestStockOnTopOfBox(t *testing.T) {
	box := solid.Box(r3.Vector{}, at(20, 10, 5))
	job := jobOf(t, unequal)
	job.Zones = []region.Zone{{Name: "seat", Shape: region.PlaneNear{Point: at(10, 5, 5)}, StockMM: 0.5}}
	res, err := offset.Compensate(context.Background(), partOf(t, box), job)
	require.NoError(t, err)
	require.InEpsilon(t, 20.16*10.16*5.65, res.GrownMM3, 1e-6) // single precision
	require.Zero(t, res.Proof.All.Shortfall.Max.Value)
	require.Nil(t, res.KeptChecks[0].Datum)
	// Plan: six faces with their allowance, the top with 0.5 mm.
	mm3 := 0.15*200 + 0.5*200 + 0.08*(2*100+2*50)
	require.InEpsilon(t, mm3/1000*4.43, res.Plan.Bath.MassAddedG, 1e-9)
	require.NotContains(t, codes(res.Findings), "zone_stock_thin")
	job.Zones[0].StockMM = 0.02
	pl, err := offset.Plan(context.Background(), partOf(t, box), job)
	require.NoError(t, err)
	require.Equal(t, 1, codes(pl.Findings)["zone_stock_thin"])
}

// With all of the part masked there is nothing to plan; with a face masked the
// field leaves it out and is 1 in the mean over the rest.
func TestMaskedPartAndField(t *testing.T) {
	box := solid.Box(r3.Vector{}, at(20, 10, 5))
	job := jobOf(t, nil)
	job.Zones = []region.Zone{{Shape: region.Ball{Centre: at(10, 5, 2), Diameter: 40}}}
	_, err := offset.Plan(context.Background(), partOf(t, box), job)
	require.ErrorIs(t, err, region.ErrAllMasked)

	job.Zones = []region.Zone{{Shape: region.PlaneNear{Point: at(10, 5, 5)}}}
	job.Field = offset.FieldFast
	pl, err := offset.Plan(context.Background(), partOf(t, box), job)
	require.NoError(t, err)
	var flux, area float64
	for f := range pl.Nominal.Facets {
		if pl.Masked(f) {
			require.Zero(t, pl.Exposed.Field.PerFacet[f])
			require.Zero(t, pl.FacetMM[f])
			continue
		}
		a := pl.Nominal.FacetArea(f)
		flux += pl.Exposed.Field.PerFacet[f] * a
		area += a
	}
	require.InEpsilon(t, 500, area, 1e-6)
	require.InEpsilon(t, 1, flux/area, 1e-9)
}
