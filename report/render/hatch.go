package render

import "math"

// Hatch is a pattern of parallel lines or dots over a colour, so that areas
// are told apart without colour. Lengths are pixels.
type Hatch struct {
	Angle  float64 // of the lines against the picture's x axis, degrees counterclockwise
	Period float64
	Width  float64
	Cross  bool // also lines at right angles
	Dots   bool // dots of this width instead of lines
}

// None tells whether the hatch draws nothing.
func (h Hatch) None() bool { return h.Period <= 0 || h.Width <= 0 }

// Cover returns how much of the hatch's ink lies on a pixel around (x, y), 0 to 1.
func (h Hatch) Cover(x, y float64) float64 {
	if h.None() {
		return 0
	}
	s, c := math.Sincos(h.Angle * math.Pi / 180)
	// Across the lines, and along them; y points down.
	across, along := x*s+y*c, x*c-y*s
	if h.Dots {
		row := math.Floor(across / h.Period)
		if int(row)%2 != 0 {
			along += h.Period / 2
		}
		u := within(along, h.Period) - h.Period/2
		v := across - (row+0.5)*h.Period
		return clamp01(h.Width/2 - math.Hypot(u, v) + 0.5)
	}
	k := line(across, h.Period, h.Width)
	if h.Cross {
		k = math.Max(k, line(along, h.Period, h.Width))
	}
	return k
}

// line returns the share of a pixel that a set of parallel lines covers.
func line(d, period, width float64) float64 {
	d = math.Abs(within(d, period) - period/2)
	return clamp01(width/2 - d + 0.5)
}

// within returns how far a value lies into its period.
func within(v, period float64) float64 { return v - float64(period*math.Floor(v/period)) }
