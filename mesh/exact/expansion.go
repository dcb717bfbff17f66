package exact

import "math"

// An expansion is a sum of doubles that do not overlap, smallest magnitude
// first, without zeros: its value is the exact sum and its sign is that of its
// last component (Shewchuk 1997, section 2). The functions below append to a
// buffer of the caller, so that short expansions stay on the stack. They are
// exact as long as no product falls below the range of doubles; see inRange.

// twoSum returns the rounded sum and its exact rounding error (Knuth).
func twoSum(a, b float64) (s, e float64) {
	s = a + b
	bv := s - a
	av := s - bv
	return s, (a - av) + (b - bv)
}

// twoDiff returns the rounded difference and its exact rounding error.
func twoDiff(a, b float64) (d, e float64) { return twoSum(a, -b) }

// twoProduct returns the rounded product and its exact rounding error.
func twoProduct(a, b float64) (p, e float64) {
	p = a * b
	return p, math.FMA(a, b, -p)
}

// difference appends a-b, exactly, to the empty buffer buf.
func difference(buf []float64, a, b float64) []float64 {
	d, e := twoDiff(a, b)
	if e != 0 {
		buf = append(buf, e)
	}
	if d != 0 {
		buf = append(buf, d)
	}
	return buf
}

// sum appends e+f to the empty buffer buf (Shewchuk's FAST-EXPANSION-SUM with
// zeros dropped; the two-sum in place of his quick one asks less of the order).
func sum(buf, e, f []float64) []float64 {
	if len(e) == 0 {
		return append(buf, f...)
	}
	if len(f) == 0 {
		return append(buf, e...)
	}
	i, j := 0, 0
	next := func() float64 {
		if j == len(f) || i < len(e) && math.Abs(e[i]) < math.Abs(f[j]) {
			i++
			return e[i-1]
		}
		j++
		return f[j-1]
	}
	q := next()
	for n := len(e) + len(f) - 1; n > 0; n-- {
		s, r := twoSum(q, next())
		if r != 0 {
			buf = append(buf, r)
		}
		q = s
	}
	if q != 0 {
		buf = append(buf, q)
	}
	return buf
}

// scale appends b*e to the empty buffer buf (Shewchuk's SCALE-EXPANSION).
func scale(buf, e []float64, b float64) []float64 {
	if len(e) == 0 || b == 0 {
		return buf
	}
	q, r := twoProduct(e[0], b)
	if r != 0 {
		buf = append(buf, r)
	}
	for _, x := range e[1:] {
		p, pe := twoProduct(x, b)
		s, r := twoSum(q, pe)
		if r != 0 {
			buf = append(buf, r)
		}
		q, r = twoSum(p, s)
		if r != 0 {
			buf = append(buf, r)
		}
	}
	if q != 0 {
		buf = append(buf, q)
	}
	return buf
}

// product appends e*f to the empty buffer buf, where f has at most two
// components, as a difference has.
func product(buf, e, f []float64) []float64 {
	switch len(f) {
	case 0:
		return buf
	case 1:
		return scale(buf, e, f[0])
	}
	var b0, b1 [2 * maxFactor]float64
	return sum(buf, scale(b0[:0], e, f[0]), scale(b1[:0], e, f[1]))
}

// maxFactor is the longest expansion that product is called with: the
// difference of two products of two differences.
const maxFactor = 16

// negate changes the sign of e in place.
func negate(e []float64) []float64 {
	for i := range e {
		e[i] = -e[i]
	}
	return e
}

// sign returns the sign of an expansion.
func sign(e []float64) int {
	if len(e) == 0 {
		return 0
	}
	return signOf(e[len(e)-1])
}

func signOf(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// Components between these bounds keep every partial product of three
// differences, and its rounding error, inside the range of normal doubles:
// (1e-75)^3 * 2^-160 > 1e-274 and 192 * (1e95)^3 < 1e288.
const (
	leastComponent    = 1e-75
	greatestComponent = 1e95
)

// inRange tells whether the expansion arithmetic is exact on a difference.
func inRange(e []float64) bool {
	for _, x := range e {
		if a := math.Abs(x); !(a >= leastComponent && a <= greatestComponent) {
			return false
		}
	}
	return true
}
