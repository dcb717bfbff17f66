package removal_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/offset/removal"
)

// C. Wagner's law for a sinusoid, values of references.md 4.1, tolerance 1e-9 as stated there.
func TestSinusoid(t *testing.T) {
	for _, c := range []struct {
		wavelength, depth, polarisation, gap, left float64
	}{
		{100, 10, 0, 0, 0.533488091},
		{100, 20, 0, 0, 0.284609543},
		{50, 20, 0, 0, 0.081002592},
		{200, 50, 0, 0, math.Exp(-math.Pi / 2)},
		{800, 100, 0, 0, 0.455938128},
		{100, 50, 50, 0, 0.468346444},
		{100, 20, 0, 20, 0.228056254},
	} {
		require.InDelta(t, c.left, removal.RaAfter(1, 0, removal.SinusoidDepth(c.wavelength, c.polarisation, c.gap), c.depth), 1e-9, "%+v", c)
	}
	for _, c := range []struct{ left, depthOverWavelength float64 }{
		{0.5, 0.110317800}, {1 / math.E, 0.159154943}, {0.1, 0.366467799}, {0.01, 0.732935599},
	} {
		require.InDelta(t, c.depthOverWavelength, -math.Log(c.left)*removal.SinusoidDepth(1, 0, 0), 1e-9)
	}
}

// With both a polarisation length and a gap the perturbed potential is solved
// here as a two-point problem by finite differences, independent of the closed form.
func TestSinusoidWithPolarisationAndGap(t *testing.T) {
	const lambda, L, H = 100.0, 30.0, 25.0
	k := 2 * math.Pi / lambda
	// phi'' = k^2 phi on 0..H, phi - L phi' = -1 at 0, phi = 0 at H; flux of the perturbation is phi'(0).
	const n = 4000
	h := H / n
	sub, diag, sup, rhs := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := 1; i < n; i++ {
		sub[i], diag[i], sup[i] = 1, -2-k*k*h*h, 1
	}
	// Second order at the wall: phi'(0) = (phi1-phi0)/h - h/2 k^2 phi0.
	diag[0], sup[0], rhs[0] = 1+L/h+L*h/2*k*k, -L/h, -1
	for i := 1; i < n; i++ {
		w := sub[i] / diag[i-1]
		diag[i] -= w * sup[i-1]
		rhs[i] -= w * rhs[i-1]
	}
	phi := make([]float64, n+1)
	for i := n - 1; i >= 0; i-- {
		phi[i] = (rhs[i] - sup[i]*phi[i+1]) / diag[i]
	}
	flux := (phi[1]-phi[0])/h - h/2*k*k*phi[0]
	// The scheme errs by (k h)^2/12 or so, 1e-8; 1e-6 leaves room for rounding.
	require.InEpsilon(t, flux, 1/removal.SinusoidDepth(lambda, L, H), 1e-6)
}

// The empirical law, references.md 4.2, tolerance 1e-5 for the depth and the
// six decimals printed for the rest.
func TestEmpirical(t *testing.T) {
	for _, c := range []struct{ depth, ra float64 }{{0, 15}, {40, 5.834252}, {80, 2.462362}, {160, 0.765577}} {
		require.InDelta(t, c.ra, removal.RaAfter(15, 0.5, 40, c.depth), 1e-6)
	}
	require.InDelta(t, 90.747342, removal.DepthForRa(15, 0.5, 40, 2), 1e-5)
	require.Zero(t, removal.DepthForRa(1.5, 0.5, 40, 2), "smooth enough already")
	require.True(t, math.IsInf(removal.DepthForRa(15, 0.5, 40, 0.5), 1))
	require.Equal(t, 0.3, removal.RaAfter(0.3, 0.5, 40, 100), "no bath makes it rougher in this model")
}

func TestDepthAndRaAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		floor := rapid.Float64Range(0, 2).Draw(t, "floor")
		target := floor + rapid.Float64Range(0.01, 5).Draw(t, "target")
		ra := target + rapid.Float64Range(0.01, 100).Draw(t, "ra")
		d0 := rapid.Float64Range(1, 500).Draw(t, "d0")
		d := removal.DepthForRa(ra, floor, d0, target)
		// Rounding of log and exp, magnified by Ra over target.
		if got := removal.RaAfter(ra, floor, d0, d); math.Abs(got-target) > 1e-9*ra {
			t.Fatalf("Ra after %g um is %g, want %g", d, got, target)
		}
	})
}
