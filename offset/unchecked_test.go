package offset_test

import (
	"context"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/region"
)

// Unchecked, the box grows to the same closed form, and the result says that nobody looked.
func TestUncheckedSaysSo(t *testing.T) {
	job := jobOf(t, unequal)
	job.Unchecked = true
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})), job)
	require.NoError(t, err)
	require.InEpsilon(t, 1065.09312, res.GrownMM3, 1e-6)
	require.True(t, res.Unchecked)
	require.Nil(t, res.Proof)
	require.Empty(t, res.Sizes)
	i := slices.IndexFunc(res.Findings, func(f finding.Finding) bool { return f.Code == "unchecked" })
	require.GreaterOrEqual(t, i, 0)
	require.Equal(t, finding.Warning, res.Findings[i].Severity)
}

// What is left unchecked is what the words say: two boxes 0.2 mm apart, grown by 0.15
// mm each, run through each other, and two that overlap are not united. Checked,
// a gap stays and the union is one body.
func TestUncheckedDoesNotLook(t *testing.T) {
	box := func(x float64) r3.Vector { return r3.Vector{X: x} }
	near := solid.Merge(solid.Box(box(0), r3.Vector{X: 5, Y: 5, Z: 5}), solid.Box(box(5.2), r3.Vector{X: 10, Y: 5, Z: 5}))
	over := solid.Merge(solid.Box(box(0), r3.Vector{X: 5, Y: 5, Z: 5}), solid.Box(r3.Vector{X: 4, Y: 1, Z: 1}, r3.Vector{X: 10, Y: 4, Z: 4}))
	job := jobOf(t, map[region.Skin]float64{region.Upskin: 150, region.Downskin: 150, region.Vertical: 150})
	quick := job
	quick.Unchecked = true
	first := 12 // facets of the first box
	for _, c := range []struct {
		job  offset.Job
		most float64 // x of the first box's grown wall
	}{{quick, 5.15}, {job, 5.1}} {
		res, err := offset.Compensate(context.Background(), partOf(t, near), c.job)
		require.NoError(t, err)
		wall := 0.0
		for f := range first {
			for k := range 3 {
				wall = max(wall, res.Grown.Corner(f, k).X)
			}
		}
		if c.job.Unchecked {
			require.InDelta(t, c.most, wall, 1e-6)
		} else {
			require.Less(t, wall, c.most)
		}
	}
	res, err := offset.Compensate(context.Background(), partOf(t, over), quick)
	require.NoError(t, err)
	require.Len(t, res.Grown.Facets, 24)
	res, err = offset.Compensate(context.Background(), partOf(t, over), job)
	require.NoError(t, err)
	require.Greater(t, len(res.Grown.Facets), 24)
}

func TestUncheckedByAnyWorkers(t *testing.T) {
	p := partOf(t, solid.SmoothBracket(2))
	job := jobOf(t, nil)
	job.Unchecked = true
	var first *offset.Result
	for _, w := range []int{1, 2, 7} {
		job.Workers = w
		res, err := offset.Compensate(context.Background(), p, job)
		require.NoError(t, err)
		if first == nil {
			first = res
		}
		require.Equal(t, first.Grown, res.Grown)
		require.Equal(t, first.Findings, res.Findings)
	}
}

// A lean run gives the same surface and figures.
func TestLeanGrowsTheSame(t *testing.T) {
	job := jobOf(t, nil)
	job.Unchecked = true
	want, err := offset.Compensate(context.Background(), partOf(t, solid.SmoothBracket(2)), job)
	require.NoError(t, err)
	job.Lean = true
	res, err := offset.Compensate(context.Background(), partOf(t, solid.SmoothBracket(2)), job)
	require.NoError(t, err)
	require.Nil(t, res.Topo.Twin)
	require.True(t, res.Part.Topo.Closed())
	require.Equal(t, want.Grown, res.Grown)
	require.Equal(t, want.Allowance, res.Allowance)
	require.Equal(t, want.Findings, res.Findings)
	require.Equal(t, want.SkinAllowances(), res.SkinAllowances())
}
