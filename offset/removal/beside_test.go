package removal_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
	"skinstock/region"
)

// Where a bound cuts the step on one side, the face moves by the whole uncertainty all the same:
// a peak share of 0.9 +- 0.3 can rise by 0.1 only.
func TestToleranceBesideABound(t *testing.T) {
	p := plan(t, load(t, "peak_share: {value: 0.6, source: assumed, uncertainty: 0.1", "peak_share: {value: 0.9, source: assumed, uncertainty: 0.3"), removal.Options{})
	b, err := p.Tolerance(50, nil)
	require.NoError(t, err)
	for _, c := range b.Contributions {
		if c.Path == "roughness.peak_share" {
			require.InDelta(t, -0.3*28*5, c.FaceUM[2], 1e-6)
			return
		}
	}
	t.Fatal("no such contribution")
}

// With several stages, too, what a place calls for is what is taken at the place: it ends at the target.
func TestStagesBesideTheMeanFactor(t *testing.T) {
	p := plan(t, load(t, "\n  volume_l:", strings.Replace(twoStages, "depth_um: 20", "depth_um: 8", 1)+"  volume_l:", "exposure: shared", "exposure: own"), removal.Options{})
	for _, f := range []float64{0.5, 1, 2} {
		x := p.AtExposed(region.Downskin, 30, f)
		require.InDelta(t, 1.6, x.FinishedRaUM, 1e-9, "factor %g", f)
		require.InDelta(t, x.LevelUM, x.TakenUM, 1e-9, "factor %g", f)
	}
}
