package render

import (
	"image/color"
	"math"
	"sync"
)

// RGB is a colour in linear light, each part 0 to 1. Averages and shading are
// taken in linear light, where they mean amounts of light.
type RGB struct{ R, G, B float32 }

// Hex returns the colour of an sRGB triple such as 0xD55E00.
func Hex(v uint32) RGB {
	return RGB{toLinear(uint8(v >> 16)), toLinear(uint8(v >> 8)), toLinear(uint8(v))}
}

// Times returns the colour with its light multiplied by k.
func (c RGB) Times(k float64) RGB { return c.times(float32(k)) }

func (c RGB) times(k float32) RGB { return RGB{c.R * k, c.G * k, c.B * k} }

// plus returns the colour with a share of another added.
func (c RGB) plus(d RGB, k float32) RGB { return RGB{c.R + d.R*k, c.G + d.G*k, c.B + d.B*k} }

// Mix returns the colour a share t of the way from c to d.
func (c RGB) Mix(d RGB, t float64) RGB {
	f := float32(t)
	return RGB{c.R + (d.R-c.R)*f, c.G + (d.G-c.G)*f, c.B + (d.B-c.B)*f}
}

// SRGB returns the colour encoded for a screen.
func (c RGB) SRGB() color.RGBA {
	return color.RGBA{toSRGB(c.R), toSRGB(c.G), toSRGB(c.B), 255}
}

// Luminance returns the relative luminance of WCAG 2.2, 0 to 1.
func (c RGB) Luminance() float64 {
	return 0.2126*float64(c.R) + 0.7152*float64(c.G) + 0.0722*float64(c.B)
}

// Contrast returns the contrast ratio of WCAG 2.2 between two colours, 1 to 21.
func Contrast(a, b RGB) float64 {
	x, y := a.Luminance(), b.Luminance()
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// toLinear decodes a part of an sRGB colour (IEC 61966-2-1).
func toLinear(v uint8) float32 {
	s := float64(v) / 255
	if s <= 0.04045 {
		return float32(s / 12.92)
	}
	return float32(math.Pow((s+0.055)/1.055, 2.4))
}

// toSRGB encodes a part of a linear colour (IEC 61966-2-1).
func toSRGB(v float32) uint8 {
	x := math.Min(math.Max(float64(v), 0), 1)
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Round(x * 255))
}

// encoder is toSRGB by its steps, which gives the same many times faster.
type encoder struct {
	step  [256]float32          // step k-1 is the least light that is encoded as k; the last is out of reach
	first [firstCodes + 1]uint8 // the code of every so-manieth of full light
}

const firstCodes = 4096 // steps between them are few even where they are densest

// screen is the one encoder.
var screen = sync.OnceValue(newEncoder)

func newEncoder() *encoder {
	var e encoder
	for k := range 255 {
		// The bits of floats that are not negative rise with their values.
		lo, hi := uint32(0), math.Float32bits(1)
		for lo < hi {
			mid := (lo + hi) / 2
			if int(toSRGB(math.Float32frombits(mid))) > k {
				hi = mid
			} else {
				lo = mid + 1
			}
		}
		e.step[k] = math.Float32frombits(lo)
	}
	e.step[255] = float32(math.Inf(1))
	for i := range e.first {
		e.first[i] = toSRGB(float32(i) / firstCodes)
	}
	return &e
}

// at encodes a part of a linear colour.
func (e *encoder) at(v float32) uint8 {
	if !(v > 0) { // also NaN
		return 0
	}
	v = min(v, 1)
	k := e.first[int(v*firstCodes)]
	for v >= e.step[k] {
		k++
	}
	return k
}
