package threemf

import (
	"bytes"
	"math"

	"skinstock/mesh/internal/scan"
)

// transform is the 4 x 3 matrix of the specification, row by row: a point is a
// row vector in front of it, the last row is the translation.
type transform [12]float64

var identity = transform{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

// parseTransform reads 12 numbers; false when they are not finite, or flatten what they move.
func parseTransform(b []byte) (t transform, ok bool) {
	f := bytes.Fields(b)
	if len(f) != len(t) {
		return t, false
	}
	for i := range t {
		if t[i], ok = scan.Float64(f[i]); !ok || t[i]-t[i] != 0 {
			return t, false
		}
	}
	d := t.determinant()
	return t, d != 0 && d-d == 0
}

// determinant is negative for a transform that mirrors.
func (t *transform) determinant() float64 {
	return float64(t[0]*(float64(t[4]*t[8])-float64(t[5]*t[7]))) -
		float64(t[1]*(float64(t[3]*t[8])-float64(t[5]*t[6]))) +
		float64(t[2]*(float64(t[3]*t[7])-float64(t[4]*t[6])))
}

// apply moves a point.
func (t *transform) apply(p [3]float64) (q [3]float64) {
	for k := range q {
		q[k] = float64(p[0]*t[k]) + float64(p[1]*t[3+k]) + float64(p[2]*t[6+k]) + t[9+k]
	}
	return q
}

// then returns the transform that does t first and o after it.
func (t *transform) then(o *transform) (r transform) {
	for i := range 4 {
		for k := range 3 {
			s := float64(t[3*i]*o[k]) + float64(t[3*i+1]*o[3+k]) + float64(t[3*i+2]*o[6+k])
			if i == 3 {
				s += o[9+k]
			}
			r[3*i+k] = s
		}
	}
	return r
}

// finite tells whether all numbers are.
func finite(p [3]float32) bool {
	s := math.Abs(float64(p[0])) + math.Abs(float64(p[1])) + math.Abs(float64(p[2]))
	return s-s == 0
}
