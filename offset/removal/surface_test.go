package removal_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
)

// Stair-step of layers, references.md 3.1, tolerance 1e-6 as stated there and
// 1e-4 on periods, which have four decimals.
func TestStairStep(t *testing.T) {
	for _, c := range []struct{ t, deg, period, rz, ra, rq float64 }{
		{30, 15, 115.9111, 28.977775, 7.244444, 8.365163},
		{30, 30, 60.0000, 25.980762, 6.495191, 7.500000},
		{30, 45, 42.4264, 21.213203, 5.303301, 6.123724},
		{30, 60, 34.6410, 15.000000, 3.750000, 4.330127},
		{30, 75, 31.0583, 7.764571, 1.941143, 2.241439},
		{60, 15, 231.8222, 57.955550, 14.488887, 16.730326},
		{60, 30, 120.0000, 51.961524, 12.990381, 15.000000},
		{60, 45, 84.8528, 42.426407, 10.606602, 12.247449},
		{60, 60, 69.2820, 30.000000, 7.500000, 8.660254},
		{60, 75, 62.1166, 15.529143, 3.882286, 4.482877},
	} {
		ra, rq, rz, period := removal.StairStep(c.t, c.deg)
		require.InDelta(t, c.ra, ra, 1e-6)
		require.InDelta(t, c.rq, rq, 1e-6)
		require.InDelta(t, c.rz, rz, 1e-6)
		require.InDelta(t, c.period, period, 1e-4)
	}
}

// The same sawtooth, sampled and averaged by the definitions of Ra and Rq
// (references.md 2), independent of the closed form. A million samples leave 1e-6.
func TestStairStepAgainstItsProfile(t *testing.T) {
	const layer, deg, n = 40.0, 35.0, 1_000_000
	sin, cos := math.Sincos(deg * math.Pi / 180)
	period := layer / sin
	foot := layer / math.Tan(deg*math.Pi/180) * cos // where the tread's corner falls on the hypotenuse
	var sum, abs, sq float64
	z := make([]float64, n)
	for i := range z {
		x := (float64(i) + 0.5) / n * period
		if x < foot {
			z[i] = layer * cos * x / foot
		} else {
			z[i] = layer * cos * (period - x) / (period - foot)
		}
		sum += z[i]
	}
	for i := range z {
		d := z[i] - sum/n
		abs += math.Abs(d)
		sq += d * d
	}
	ra, rq, _, _ := removal.StairStep(layer, deg)
	require.InDelta(t, abs/n, ra, 1e-5)
	require.InDelta(t, math.Sqrt(sq/n), rq, 1e-5)
}

// Plateaus on a fifth of the surface, 40 um high: Ra 12.8 um (references.md 2).
func TestPlateau(t *testing.T) {
	require.InDelta(t, 12.8, removal.PlateauRa(40, 0.2), 1e-12)
	require.Zero(t, removal.PlateauRa(40, 0))
}
