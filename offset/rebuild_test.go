package offset_test

import (
	"context"
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/region"
)

// remeshed compensates with the surface rebuilt, and checks what every result promises.
func remeshed(t *testing.T, m *mesh.Mesh, um, chordUM float64) *offset.Result {
	t.Helper()
	job := jobOf(t, everySkin(um))
	job.Remesh, job.ChordUM = true, chordUM
	res, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	sound(t, res)
	require.Len(t, of(res, "remeshed"), 1)
	require.True(t, slices.IsSorted(res.NominalOf))
	return res
}

// A box rebuilt is the box moved, edges and all, and two chords more.
func TestRebuiltBox(t *testing.T) {
	res := remeshed(t, solid.Box(r3.Vector{}, r3.Vector{X: 8, Y: 6, Z: 4}), 150, 2)
	const g = 2 * 0.154
	require.InDelta(t, (8+g)*(6+g)*(4+g), res.GrownMM3, 1e-3)
	require.Zero(t, res.Proof.All.Shortfall.Max.Value)
	require.Equal(t, finding.Info, of(res, "remeshed")[0].Severity)
	require.Equal(t, len(res.Grown.Facets), res.Rebuilt)
}

// A ball has all its stock, and little more than two chords beyond.
func TestRebuiltBall(t *testing.T) {
	res := remeshed(t, solid.Icosphere(3, 4), 150, 4)
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, promised)
	require.Less(t, res.Proof.All.Excess.P99, 0.01)
	require.InEpsilon(t, 4.0/3*math.Pi*math.Pow(3.15, 3), res.GrownMM3, 5e-3)
}

// Bodies that overlap become one clean body with stock all around.
func TestRebuiltOverlap(t *testing.T) {
	a := solid.Box(r3.Vector{}, r3.Vector{X: 5, Y: 5, Z: 5})
	res := remeshed(t, solid.Merge(a, solid.Shift(a, r3.Vector{X: 2.5, Y: 2.5, Z: 2.5})), 150, 2)
	require.Len(t, res.Grown.Shells(res.Grown.Topology()), 1)
	require.InDelta(t, 2*math.Pow(5.308, 3)-math.Pow(2.808, 3), res.GrownMM3, 0.01)
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, promised)
}

// far is beyond the coordinates that exact arithmetic takes, mm: crossings cannot be resolved there.
const far = 40000

// Where crossings of the moved facets cannot be resolved the surface is rebuilt; where
// that cannot be made clean either, nothing comes out, and both reasons are told.
func TestRebuildingIsTriedWhereMovingFails(t *testing.T) {
	rods := solid.Implicit(solid.Union(
		solid.Rod(r3.Vector{X: -3}, r3.Vector{X: 3}, 0.6), solid.Rod(r3.Vector{X: -3, Z: -2}, r3.Vector{X: 2, Z: 2}, 0.6),
	), r3.Vector{X: -4, Y: -4, Z: -4}, r3.Vector{X: 4, Y: 4, Z: 4}, 0.37)
	for v, p := range rods.Vertices { // on coordinates that single precision holds far away
		rods.Vertices[v].X = math.Round(p.X*256) / 256
	}
	job := jobOf(t, everySkin(400))
	job.ChordUM, job.NoVerify = 2, true
	near, err := offset.Compensate(context.Background(), partOf(t, rods), job)
	require.NoError(t, err)
	require.NotEmpty(t, of(near, "rebuilt"), "its facets meet")
	require.Nil(t, near.Rebuilding)
	_, err = offset.Compensate(context.Background(), partOf(t, solid.Shift(rods, r3.Vector{X: far})), job)
	var stuck *offset.CrossingError
	require.ErrorAs(t, err, &stuck)
	require.ErrorContains(t, err, "nor could the surface be rebuilt")

	// The same part where it can be rebuilt.
	job.NoVerify = false
	res, err := offset.CompensateStuck(context.Background(), partOf(t, rods), job)
	require.NoError(t, err)
	sound(t, res)
	require.Len(t, of(res, "remeshed"), 1)
	require.Equal(t, finding.Warning, of(res, "remeshed")[0].Severity)
	require.Contains(t, of(res, "remeshed")[0].Message, "moving the facets left crossings (stuck)")
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, promised)
	require.Less(t, res.GrownMM3, near.GrownMM3, "rough edges end sharper when moved")
	require.Greater(t, res.GrownMM3, 0.9*near.GrownMM3)
}

// Bodies that cannot be united exactly are united by the distance to them.
func TestRebuiltPartWhereUnitingFails(t *testing.T) {
	a := solid.Shift(solid.Box(r3.Vector{}, r3.Vector{X: 5, Y: 5, Z: 5}), r3.Vector{X: far})
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Merge(a, solid.Shift(a, r3.Vector{X: 2.5, Y: 2.5, Z: 2.5}))), jobOf(t, everySkin(150)))
	require.NoError(t, err)
	require.True(t, res.Nominal.Topology().Closed())
	require.Len(t, res.Nominal.Shells(res.Nominal.Topology()), 1)
	require.InDelta(t, 2*125-2.5*2.5*2.5, res.Nominal.Volume(), 150*0.004) // 150 mm2, single precision is 4 um there
	require.Len(t, of(res, "self_crossing_input"), 1)
	require.NotEmpty(t, of(res, "remeshed"))
	sound(t, res)
}

// Random parts rebuilt: closed, free of crossings, and what lacks stock is told.
func TestRandomPartsRebuilt(t *testing.T) {
	within, n := 0, 0
	for _, kind := range randomParts {
		for seed := range 1 + *seeds/12 {
			r := rand.New(rand.NewSource(int64(seed)))
			p := partOf(t, kind.make(r))
			job := jobOf(t, map[region.Skin]float64{region.Upskin: 20 + 200*r.Float64(), region.Vertical: 20 + 200*r.Float64(), region.Downskin: 20 + 200*r.Float64()})
			job.Samples, job.Remesh, job.ChordUM = 20_000, true, 5
			res, err := offset.Compensate(t.Context(), p, job)
			require.NoError(t, err, "%s %d", kind.name, seed)
			sound(t, res)
			require.Greater(t, res.GrownMM3, res.Nominal.Volume())
			n++
			if res.Proof.Within() {
				within++
			} else {
				t.Logf("%s %d: short by %g mm at %v", kind.name, seed, res.Proof.All.Shortfall.Max.Value, res.Proof.All.Shortfall.Max.At)
				require.NotEmpty(t, of(res, "stock_missing"), "%s %d", kind.name, seed)
			}
		}
	}
	require.GreaterOrEqual(t, float64(within), 0.9*float64(n), "%d of %d have all their stock", within, n)
}
