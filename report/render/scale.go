package render

import "math"

// Map turns a share from 0 to 1 into a colour.
type Map func(t float64) RGB

// Viridis is the sequential map of S. van der Walt and N. Smith (2015, CC0),
// by the sixth-degree fit of M. Zucker (CC0); it is within 4/255 of the table.
func Viridis(t float64) RGB { return polynomial(viridis, t) }

// Cividis is the sequential map of J. Nunez, C. Anderton and R. Renslow, PLoS
// ONE 13 (2018) e0199239, interpolated in sRGB between ten equal steps of its
// table. It is read alike with and without a red-green deficiency.
func Cividis(t float64) RGB { return between(cividis[:], t) }

// PuOr is the diverging map of C. Brewer (ColorBrewer 2, 11 classes) from
// orange (0) over near white (0.5) to purple (1), interpolated in sRGB.
func PuOr(t float64) RGB { return between(puor[:], t) }

// between interpolates a table of sRGB codes.
func between(table []uint32, t float64) RGB {
	t = clamp01(t) * float64(len(table)-1)
	i := min(int(t), len(table)-2)
	var c [3]float64
	for k := range c {
		shift := 16 - 8*k
		a, b := float64(table[i]>>shift&255), float64(table[i+1]>>shift&255)
		c[k] = a + (b-a)*(t-float64(i))
	}
	return encoded(c)
}

var cividis = [...]uint32{
	0x00204D, 0x00336F, 0x39486B, 0x575C6D, 0x707173, 0x8A8779, 0xA69D75, 0xC4B56C, 0xE4CF5B, 0xFFEA46,
}

var puor = [...]uint32{
	0x7F3B08, 0xB35806, 0xE08214, 0xFDB863, 0xFEE0B6, 0xF7F7F7,
	0xD8DAEB, 0xB2ABD2, 0x8073AC, 0x542788, 0x2D004B,
}

// Coefficients by rising power, in shares of 255 of the sRGB code.
var viridis = [3][]float64{
	{0.2777273272, 0.1050930431, -0.3308618287, -4.6342304990, 6.2282699363, 4.7763849977, -5.4354558559},
	{0.0054073445, 1.4046135299, 0.2148475595, -5.7991009734, 14.1799333668, -13.7451453777, 4.6458526122},
	{0.3340998053, 1.3845901626, 0.0950951630, -19.3324409563, 56.6905526007, -65.3530326334, 26.3124352496},
}

func polynomial(p [3][]float64, t float64) RGB {
	t = clamp01(t)
	var c [3]float64
	for k, q := range p {
		v := 0.0
		for i := len(q) - 1; i >= 0; i-- {
			v = float64(v*t) + q[i]
		}
		c[k] = 255 * clamp01(v)
	}
	return encoded(c)
}

// encoded returns the colour of sRGB codes 0 to 255 that need not be whole.
func encoded(c [3]float64) RGB {
	lin := func(v float64) float32 {
		if v /= 255; v > 0.04045 {
			return float32(math.Pow((v+0.055)/1.055, 2.4))
		}
		return float32(v / 12.92)
	}
	return RGB{lin(c[0]), lin(c[1]), lin(c[2])}
}

func clamp01(t float64) float64 {
	if !(t > 0) { // also NaN
		return 0
	}
	return min(t, 1)
}

// Scale gives values their colours. Values beyond the ends take the Under and
// Over colours, so that what is out of range shows.
type Scale struct {
	Lo, Hi      float64
	Under, Over RGB
	steps       []RGB
}

// scaleSteps is the number of colours of a scale: finer than 8-bit codes tell apart.
const scaleSteps = 1024

// NewScale returns the scale of the map from lo to hi, whose ends also serve beyond them.
func NewScale(m Map, lo, hi float64) *Scale {
	if !(hi > lo) {
		hi = lo + 1
	}
	s := &Scale{Lo: lo, Hi: hi, steps: make([]RGB, scaleSteps+1)}
	for i := range s.steps {
		s.steps[i] = m(float64(i) / scaleSteps)
	}
	s.Under, s.Over = s.steps[0], s.steps[scaleSteps]
	return s
}

// At returns the colour of a value; NaN counts as below the scale.
func (s *Scale) At(v float64) RGB {
	// A millionth of the range forgives rounding at the ends.
	slack := 1e-6 * (s.Hi - s.Lo)
	switch {
	case v > s.Hi+slack:
		return s.Over
	case !(v >= s.Lo-slack):
		return s.Under
	}
	t := clamp01((v - s.Lo) / (s.Hi - s.Lo))
	return s.steps[int(float64(t*scaleSteps)+0.5)]
}

// Ticks returns round values from lo to hi, both within, about n of them, and
// the number of decimals they need.
func Ticks(lo, hi float64, n int) (ticks []float64, decimals int) {
	if !(hi > lo) || n < 1 {
		return nil, 0
	}
	step := RoundStep((hi - lo) / float64(n))
	decimals = max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi*(1+1e-9)+1e-9*step; i++ {
		ticks = append(ticks, i*step+0) // the sum turns -0 into 0
	}
	return ticks, decimals
}

// RoundStep returns the nearest of 1, 2 and 5 times a power of ten at or above
// v, but for rounding; v must be positive.
func RoundStep(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range [...]float64{1, 2, 5} {
		if k*p >= v*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}
