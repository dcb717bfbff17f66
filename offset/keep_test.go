package offset_test

import (
	"context"
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

// angleBracket is an angle of 40 x 20 x 26 mm, 6 mm thick, its inside corner
// rounded, with a bore of 8 mm through the foot and one of 6 mm through the
// upright, off a voxel grid.
func angleBracket() *mesh.Mesh {
	both := solid.Blend(3, solid.Block(at(0, 0, 0), at(40, 20, 6)), solid.Block(at(0, 0, 0), at(6, 20, 26)))
	down, across := solid.Rod(at(25, 10, -9), at(25, 10, 9), 4), solid.Rod(at(-9, 10, 18), at(9, 10, 18), 3)
	drilled := func(p r3.Vector) float64 { return max(both(p), -down(p), -across(p)) }
	m := solid.Implicit(drilled, at(-1, -1, -1), at(41, 21, 27), 0.93)
	m.RoundToFloat32()
	return m
}

// keptOfBracket are its two bores and its underside.
var keptOfBracket = []region.Zone{
	{Name: "foot bore", Shape: region.BoreNear{Point: at(25, 10, 3)}},
	{Name: "upright bore", Shape: region.BoreNear{Point: at(3, 10, 18)}},
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
// after growing, what lies beyond the blend has its full allowance, and the
// proof finds nothing missing there.
func TestKeptBoresAndFaceOfBracket(t *testing.T) {
	m := angleBracket()
	job := jobOf(t, nil)
	job.Zones = keptOfBracket
	res, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	require.Len(t, res.KeptChecks, 3)
	for i, c := range res.KeptChecks {
		require.True(t, c.Datum.Unchanged, "%s", c.Datum)
		require.LessOrEqual(t, c.Shortfall, 2e-4, i) // rims slide within half the micrometre
	}
	require.InDelta(t, 8, res.KeptChecks[0].Datum.BoreAfter.DiameterMM, 1e-3)
	require.InDelta(t, 6, res.KeptChecks[1].Datum.BoreAfter.DiameterMM, 1e-3)
	require.InDelta(t, -1, res.KeptChecks[2].Datum.PlaneAfter.Normal.Z, 1e-6)
	require.NotContains(t, codes(res.Findings), "kept_changed")

	plain, err := offset.Plan(context.Background(), partOf(t, m), jobOf(t, nil))
	require.NoError(t, err)
	var masked float64
	kept := &mesh.Mesh{Vertices: res.Nominal.Vertices}
	for f := range m.Facets {
		if res.Masked(f) {
			masked += m.FacetArea(f)
			kept.Facets = append(kept.Facets, m.Facets[f])
		}
	}
	// Masked faces are dry: their area, and with it the current, is not the bath's.
	require.InEpsilon(t, plain.Plan.Bath.AreaCM2-masked/100, res.Plan.Bath.AreaCM2, 1e-9)
	require.InEpsilon(t, plain.Plan.Bath.CurrentA*res.Plan.Bath.AreaCM2/plain.Plan.Bath.AreaCM2, res.Plan.Bath.CurrentA, 1e-9)

	// The blend is as long as the largest allowance over the slope; fronts that
	// bend inside facets need two hundredths more.
	tree := bvh.New(kept, 0)
	blend := 1.02 * 0.1928 / job.Recipe.Geometry.MaxSlope.Value
	full := 0
	for f := range m.Facets {
		if res.Masked(f) {
			require.Equal(t, [3]float64{}, res.Allowance[f])
			continue
		}
		for c := range 3 {
			if tree.Closest(m.Corner(f, c), bvh.NoHint).Dist > blend {
				full++
				require.GreaterOrEqual(t, res.Allowance[f][c], plain.FacetMM[f])
			}
		}
	}
	require.Greater(t, full, len(m.Facets))
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, 0.001)
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
	// An upright bore has the allowance of vertical faces all around, 155.8 um.
	require.InDelta(t, -2*0.1558, v.KeptChecks[0].Datum.LargerMM, 0.01)
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
