package report

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/part"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/region"
)

// A sphere grown by the allowance finishes on nominal: the predicted surface
// lies on the sphere to the proof's tolerance of 1 um.
func TestEvenFinishOfASphere(t *testing.T) {
	const radius = 10
	m := solid.Icosphere(radius, 4)
	rec, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	fixed := map[region.Skin]float64{region.Upskin: 150, region.Vertical: 150, region.Downskin: 150, region.Platform: 150}
	res, err := offset.Compensate(context.Background(), &part.Part{Name: "sphere", Mesh: m, Topo: m.Topology()},
		offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}, FixedUM: fixed})
	require.NoError(t, err)
	fin := evenFinish(res)
	require.NotSame(t, res.Nominal, fin)
	for v, p := range fin.Vertices {
		if d := math.Abs(p.Norm() - radius); d > 0.001 {
			t.Fatalf("vertex %d finishes %.4f mm off the sphere", v, d)
		}
	}
	// Where stock is over, the prediction stands out by it.
	res.Proof.VertexDeviation[0] = 0.05
	require.InDelta(t, radius+0.05, evenFinish(res).Vertices[0].Norm(), 1e-6)
}
