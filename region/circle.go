package region

import (
	"math"

	"github.com/golang/geo/r3"
)

// Across returns two unit vectors that with the unit vector a make a right-handed frame.
func Across(a r3.Vector) (u, v r3.Vector) {
	u = a.Ortho()
	return u, a.Cross(u)
}

// FitCircle fits a circle to points in the plane by least squares of the
// algebraic distance (I. Kasa, IEEE Transactions on Instrumentation and
// Measurement 25, 1976); ok is false for fewer than three points or points in a row.
func FitCircle(xy [][2]float64) (x, y, r float64, ok bool) {
	n := float64(len(xy))
	if n < 3 {
		return 0, 0, 0, false
	}
	var mx, my float64
	for _, p := range xy {
		mx += p[0] / n
		my += p[1] / n
	}
	var suu, suv, svv, suuu, svvv, suvv, svuu float64
	for _, p := range xy {
		u, v := p[0]-mx, p[1]-my
		suu += u * u
		suv += u * v
		svv += v * v
		suuu += u * u * u
		svvv += v * v * v
		suvv += u * v * v
		svuu += v * u * u
	}
	det := suu*svv - suv*suv
	if det <= 1e-9*(suu+svv)*(suu+svv) {
		return 0, 0, 0, false
	}
	a, b := (suuu+suvv)/2, (svvv+svuu)/2
	uc, vc := (a*svv-b*suv)/det, (b*suu-a*suv)/det
	return mx + uc, my + vc, math.Sqrt(uc*uc + vc*vc + (suu+svv)/n), true
}
