package report

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
)

// A box of 10 x 20 x 30 mm has a bottom of 200 mm2 and sides of 600 and 300
// mm2. With the limit at 60 degrees the bottom is a downskin up to a tilt of 60
// degrees, and the side that turns downwards from 30 degrees on.
func TestTiltOfABox(t *testing.T) {
	curves := tiltCurves(solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), r3.Vector{Z: 1}, 60)
	if len(curves) != 2 {
		t.Fatalf("%d curves, want one to the right and one to the back", len(curves))
	}
	side := [...]float64{20 * 30, 10 * 30}
	for i, c := range curves {
		for j, deg := range c.Deg {
			want := 0.0
			if math.Abs(deg) < 60 {
				want += 200
			}
			if math.Abs(deg) > 30 {
				want += side[i]
			}
			if a := math.Abs(deg); a == 30 || a == 60 {
				continue // on the limit the last bit decides
			}
			if math.Abs(c.AreaMM2[j]-want) > 1e-9*want {
				t.Errorf("%s at %g degrees: %g mm2, want %g", c.Name, deg, c.AreaMM2[j], want)
			}
		}
	}
}
