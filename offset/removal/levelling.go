package removal

import "math"

// RaAfter returns Ra after a depth of removal by the empirical law
// Ra = Rf + (Ra0 - Rf) exp(-d/d0) (references.md 4.2), all in um. A surface
// that starts at or below the floor stays as it is.
func RaAfter(ra0, floor, d0, depth float64) float64 {
	if ra0 <= floor {
		return ra0
	}
	return floor + (ra0-floor)*math.Exp(-depth/d0)
}

// DepthForRa returns the depth in um at which Ra falls to the target by the
// empirical law, d0 ln((Ra0 - Rf)/(Rt - Rf)); 0 when the surface starts there,
// +Inf when the target is not above the floor.
func DepthForRa(ra0, floor, d0, target float64) float64 {
	switch {
	case ra0 <= target:
		return 0
	case target <= floor:
		return math.Inf(1)
	}
	return d0 * math.Log((ra0-floor)/(target-floor))
}

// SinusoidDepth returns the depth in um over which a sinusoidal waviness of
// small height falls to 1/e in a bath limited by field or diffusion
// (C. Wagner, J. Electrochem. Soc. 101 (1954) 225; references.md 4.1):
// wavelength/(2 pi) in a wide bath. A polarisation length L adds to it, since
// the flux on the metal is E0 (1 + k eps cos kx/(1 + kL)). A gap or diffusion
// layer H, 0 for none, takes it down to tanh(kH)/k. With both, the perturbed
// potential is A sinh(k(H-y)) with A (1 + kL coth kH) = -E0 eps, which gives
// tanh(kH)/k + L. All lengths in um.
func SinusoidDepth(wavelength, polarisation, gap float64) float64 {
	k := 2 * math.Pi / wavelength
	d := 1 / k
	if gap > 0 {
		d = math.Tanh(k*gap) / k
	}
	return d + polarisation
}
