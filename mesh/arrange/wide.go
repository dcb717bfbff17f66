package arrange

import "math/bits"

// int128 and int192 are two's complement numbers, least word first. Grid
// differences have at most 53 bits, so that no sum here overflows: a minor has
// 107 bits, a determinant 162.
type (
	int128 [2]uint64
	int192 [3]uint64
)

// product returns a*b.
func product(a, b int64) int128 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	hi -= uint64(a>>63)&uint64(b) + uint64(b>>63)&uint64(a)
	return int128{lo, hi}
}

// difference returns a*b - c*d.
func difference(a, b, c, d int64) int128 {
	p, q := product(a, b), product(c, d)
	lo, borrow := bits.Sub64(p[0], q[0], 0)
	hi, _ := bits.Sub64(p[1], q[1], borrow)
	return int128{lo, hi}
}

func (x int128) sign() int { return signOf(int64(x[1]), x[0]) }

// addProduct adds m*d.
func (x *int192) addProduct(m int128, d int64) {
	// m*d = m[0]*d + 2^64*(int64(m[1])*d), and m[0]*d for the unsigned m[0] is
	// the signed product plus 2^64*d where m[0] counts as negative.
	low := product(int64(m[0]), d)
	high := product(int64(m[1]), d)
	if int64(m[0]) < 0 {
		var carry uint64
		high[0], carry = bits.Add64(high[0], uint64(d), 0)
		high[1], _ = bits.Add64(high[1], uint64(d>>63), carry)
	}
	var carry uint64
	p1, carry := bits.Add64(low[1], high[0], 0)
	p2, _ := bits.Add64(uint64(int64(low[1])>>63), high[1], carry)
	x[0], carry = bits.Add64(x[0], low[0], 0)
	x[1], carry = bits.Add64(x[1], p1, carry)
	x[2], _ = bits.Add64(x[2], p2, carry)
}

func (x int192) sign() int { return signOf(int64(x[2]), x[0]|x[1]) }

func signOf(top int64, rest uint64) int {
	switch {
	case top < 0:
		return -1
	case top > 0 || rest > 0:
		return 1
	}
	return 0
}
