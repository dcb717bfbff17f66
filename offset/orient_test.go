package offset_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/region"
)

// A plan for the best direction is the plan of that direction: what the ranking
// promised comes out, with skins in classes and with roughness by angle.
func TestBestDirectionIsPlanned(t *testing.T) {
	m := solid.LanderBracket(2.5)
	m.RoundToFloat32()
	job := jobOf(t, nil)
	byAngle := job.Recipe.Clone()
	value := func(v float64) recipe.Quantity { return recipe.Quantity{Value: v, Source: recipe.Assumed} }
	byAngle.Roughness.Model = recipe.ModelStairStep
	byAngle.Roughness.StairStep = recipe.StairStep{
		CutoffMM: value(2.5), ParticleUM: value(40), CoveredWall: value(0.13), TrackRaUM: value(8), DrossRaUM: value(30), DrossOversizeUM: value(40),
	}
	for _, r := range []*recipe.Recipe{job.Recipe, byAngle} {
		job := job
		job.Recipe, job.Best = r, true
		pl, err := offset.Plan(context.Background(), partOf(t, m), job)
		require.NoError(t, err)
		best := pl.Chosen.Best[0]
		require.InDelta(t, 0, best.Dir.Distance(pl.BuildDir), 1e-15)
		require.True(t, best.Exact)
		down, _ := pl.Plan.Skin(region.Downskin)
		require.InDelta(t, best.Tally.AreaMM2[region.Downskin], down.AreaMM2, 1e-6)
		require.Equal(t, pl.Plan.Governs.String(), best.Cost.Governs)
		// Steps of 5 degrees against half a degree; what sets the time are their ends.
		require.InEpsilon(t, pl.Plan.TimeMin, best.Cost.TimeMin, 1e-3)
		require.InEpsilon(t, pl.Plan.Bath.MassAddedG/4.43*1000, best.Cost.AddedMM3, 1e-3)
	}
}

// Masked faces cost neither time nor stock, but still hang over: a plate masked
// below and lying flat has no downskin to treat, and all of it to support.
func TestMaskedFacesCostNothing(t *testing.T) {
	job := jobOf(t, nil)
	job.Zones = []region.Zone{{Shape: region.PlaneNear{Point: at(10, 5, 0)}}}
	pl, err := offset.Orient(context.Background(), partOf(t, solid.Box(r3.Vector{}, at(20, 10, 5))), job)
	require.NoError(t, err)
	c := pl.Chosen.Current
	require.Zero(t, c.Tally.AreaMM2[region.Downskin])
	require.InDelta(t, 200, c.Tally.FlatMM2, 1e-9)
	require.Equal(t, "upskin", c.Cost.Governs)
}

// Where the machine is too low for the upright part, a lower direction is best,
// and those that fit no envelope come after those that do.
func TestEnvelopeOfTheMachine(t *testing.T) {
	p := partOf(t, solid.Box(r3.Vector{}, at(100, 10, 10)))
	job := jobOf(t, nil)
	pl, err := offset.Orient(context.Background(), p, job)
	require.NoError(t, err)
	require.Greater(t, pl.Chosen.Best[0].Tally.HeightMM, 80.0, "upright there is least downskin")
	job.EnvelopeMM = [3]float64{120, 120, 60}
	pl, err = offset.Orient(context.Background(), p, job)
	require.NoError(t, err)
	best := pl.Chosen.Best[0]
	require.True(t, best.Fits)
	require.LessOrEqual(t, best.Tally.HeightMM, 60.0)
	require.False(t, pl.Chosen.Best[0].FootprintMM[0] > 120)
	for i, c := range pl.Chosen.Best[1:] {
		require.True(t, pl.Chosen.Best[i].Fits || !c.Fits)
	}
}

// The 2,500 directions of a part, with the recipe's cost of each, after loading:
// the larger one has some 500,000 facets.
func BenchmarkOrient(b *testing.B) {
	for _, cell := range []float64{3, 0.4} {
		p := partOf(b, solid.LanderBracket(cell))
		job := jobOf(b, nil)
		b.Run(fmt.Sprintf("%d facets", len(p.Mesh.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			pl := &offset.Planned{Part: p, Nominal: p.Mesh, Topo: p.Topo}
			for b.Loop() {
				if err := offset.RankDirections(context.Background(), pl, job); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
