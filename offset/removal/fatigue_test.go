package removal_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
)

// Murakami's formulas, values of references.md 8: 0.001 MPa and 1e-5 um as stated there.
func TestMurakami(t *testing.T) {
	require.InDelta(t, 311.961, removal.FatigueLimit(350, 100, -1), 0.001)
	amplitude := removal.FatigueLimit(350, 100, 0.1)
	require.InDelta(t, 253.273, amplitude, 0.001)
	require.InDelta(t, 562.829, amplitude*2/(1-0.1), 0.001, "maximum stress")
	require.InDelta(t, 327.814, removal.FatigueLimit(320, 50, -1), 0.001)
	require.InDelta(t, 260.186, removal.FatigueLimit(320, 200, -1), 0.001)
	require.InDelta(t, 253.792, removal.FatigueLimit(380, 500, -1), 0.001)

	require.InDelta(t, 25.21600, removal.RoughnessDefect(10, 100), 1e-5)
	require.Equal(t, 38.0, removal.RoughnessDefect(30, 100))
	require.Equal(t, 57.0, removal.RoughnessDefect(50, 150))
	// The author's jump at 0.195.
	require.InDelta(t, 0.37346, removal.RoughnessDefect(0.195-1e-9, 1), 1e-5)
	require.Equal(t, 0.38, removal.RoughnessDefect(0.195, 1))
}

func TestFatigueOfThePlan(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	fs := p.Fatigue(-1)
	require.Len(t, fs, 3)
	down := fs[2]
	// As built 140 um on a pitch of 150 um: 0.38 x 150. Finished Rz is 8 um.
	require.InDelta(t, 57, down.BeforeUM, 1e-9)
	x := 8.0 / 150
	require.InDelta(t, 150*(2.97*x-3.51*x*x-9.74*x*x*x), down.AfterUM, 1e-9)
	require.InDelta(t, removal.FatigueLimit(349, 57, -1), down.BeforeMPa, 1e-9)
	require.InDelta(t, down.AfterMPa/down.BeforeMPa, down.Ratio, 1e-12)
	require.Greater(t, down.Ratio, 1.0)
	for _, f := range fs {
		require.LessOrEqual(t, f.AfterMPa, 1.6*349+1e-9)
		require.False(t, math.IsNaN(f.Ratio))
	}
	require.Contains(t, removal.FatigueCaution, "never a release")
}

// Roughness of so short a pitch that it counts less than smooth metal bears
// takes nothing away, before the bath or after it.
func TestSmoothMetalCapsBothFatigueFigures(t *testing.T) {
	r := load(t)
	r.Roughness.Classes.Upskin.WavelengthUM.Value = 1
	up := plan(t, r, removal.Options{}).Fatigue(-1)[0]
	require.Greater(t, removal.FatigueLimit(349, up.BeforeUM, -1), 1.6*349)
	require.Equal(t, [3]float64{1.6 * 349, 1.6 * 349, 1}, [3]float64{up.BeforeMPa, up.AfterMPa, up.Ratio})
	require.True(t, up.SmoothLimit)
}

func TestNoFatigueWithoutHardness(t *testing.T) {
	r := load(t)
	r.Material.HardnessHV.Source = ""
	require.Nil(t, plan(t, r, removal.Options{}).Fatigue(-1))
}
