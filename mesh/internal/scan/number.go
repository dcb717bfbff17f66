package scan

import (
	"math"
	"strconv"
)

// Decimal powers in double precision, each within half a unit in the last place.
const (
	lowPower  = -65
	highPower = 40
)

var power = [highPower - lowPower + 1]float64{
	1e-65, 1e-64, 1e-63, 1e-62, 1e-61, 1e-60, 1e-59, 1e-58, 1e-57, 1e-56, 1e-55, 1e-54,
	1e-53, 1e-52, 1e-51, 1e-50, 1e-49, 1e-48, 1e-47, 1e-46, 1e-45, 1e-44, 1e-43, 1e-42,
	1e-41, 1e-40, 1e-39, 1e-38, 1e-37, 1e-36, 1e-35, 1e-34, 1e-33, 1e-32, 1e-31, 1e-30,
	1e-29, 1e-28, 1e-27, 1e-26, 1e-25, 1e-24, 1e-23, 1e-22, 1e-21, 1e-20, 1e-19, 1e-18,
	1e-17, 1e-16, 1e-15, 1e-14, 1e-13, 1e-12, 1e-11, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6,
	1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6,
	1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
	1e19, 1e20, 1e21, 1e22, 1e23, 1e24, 1e25, 1e26, 1e27, 1e28, 1e29, 1e30,
	1e31, 1e32, 1e33, 1e34, 1e35, 1e36, 1e37, 1e38, 1e39, 1e40,
}

// decimal is a number as it was written: sign, the first 19 digits and a power of ten.
type decimal struct {
	neg  bool
	mant uint64
	exp  int
}

// Float32 returns the single-precision number nearest to the decimal number w, as
// strconv.ParseFloat does; ok is false when w is no number. A number beyond
// single precision comes back as an infinity, and "nan", "inf" and their
// usual spellings as what they mean.
func Float32(w []byte) (v float32, ok bool) {
	d, n := parse(w)
	if n == 0 || n < len(w) {
		return notFinite(w)
	}
	return d.float32(w), true
}

// Float32Ahead is Float32 for the word that text begins with. It returns the
// length of the word too, 0 where that is no finite number or ends the text.
func Float32Ahead(text []byte) (v float32, n int) {
	d, n := parse(text)
	if n == 0 || n == len(text) || text[n] > ' ' {
		return 0, 0
	}
	return d.float32(text[:n]), n
}

// float32 returns d, which w spells.
func (d *decimal) float32(w []byte) float32 {
	if d.mant == 0 {
		return signed(0, d.neg)
	}
	if d.exp >= lowPower && d.exp <= highPower {
		// Three roundings of half a unit each and the digits beyond the 19th
		// leave f within 2 units of the true value. Rounding f to single
		// precision drops 29 bits and is right unless they are that close to
		// one half; 8 units leave room.
		f := float64(d.mant) * power[d.exp-lowPower]
		const half, room = 1 << 28, 8
		low := int64(math.Float64bits(f) & (1<<29 - 1))
		if f >= 0x1p-126 && f < 0x1p127 && (low < half-room || low > half+room) {
			return signed(float32(f), d.neg)
		}
	}
	// Rare: halfway cases, numbers below the normal range or near its top.
	f, _ := strconv.ParseFloat(string(w), 32)
	return float32(f)
}

// Float64 returns the double-precision number nearest to the decimal number
// w; ok is false when w is no number. Infinities as in Float32.
func Float64(w []byte) (v float64, ok bool) {
	d, n := parse(w)
	if n == 0 || n < len(w) {
		f, ok := notFinite(w)
		return float64(f), ok
	}
	const exact = 22 // the powers of ten up to this one are whole doubles
	if d.mant < 1<<53 && d.exp >= -exact && d.exp <= exact {
		f := float64(d.mant)
		if d.exp < 0 {
			f /= power[-d.exp-lowPower] // one rounding, so the result is the nearest
		} else {
			f *= power[d.exp-lowPower]
		}
		if d.neg {
			f = -f
		}
		return f, true
	}
	v, _ = strconv.ParseFloat(string(w), 64)
	return v, true
}

// Int returns the whole number w; ok is false when w is none or needs more than 18 digits.
func Int(w []byte) (v int64, ok bool) {
	neg := len(w) > 0 && w[0] == '-'
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		w = w[1:]
	}
	if len(w) == 0 || len(w) > 18 {
		return 0, false
	}
	for _, c := range w {
		if c < '0' || c > '9' {
			return 0, false
		}
		v = 10*v + int64(c-'0')
	}
	if neg {
		v = -v
	}
	return v, true
}

// parse takes [sign] digits [. digits] [e [sign] digits] apart, and returns how
// many bytes that are, 0 where the text begins otherwise.
func parse(w []byte) (d decimal, i int) {
	n := len(w)
	if n > 0 && (w[0] == '-' || w[0] == '+') {
		d.neg = w[0] == '-'
		i++
	}
	kept, digits := 0, 0 // digits in mant from the first that is not zero; digits seen
	for ; i < n && w[i]-'0' <= 9; i++ {
		digits++
		if kept < 19 {
			d.mant = 10*d.mant + uint64(w[i]-'0')
			if d.mant != 0 {
				kept++
			}
		} else {
			d.exp++
		}
	}
	if i < n && w[i] == '.' {
		for i++; i < n && w[i]-'0' <= 9; i++ {
			digits++
			if kept < 19 {
				d.mant = 10*d.mant + uint64(w[i]-'0')
				d.exp--
				if d.mant != 0 {
					kept++
				}
			}
		}
	}
	if digits == 0 {
		return d, 0
	}
	if i < n && w[i]|0x20 == 'e' {
		e, l := exponent(w[i+1:])
		if l == 0 {
			return d, 0
		}
		d.exp += e
		i += 1 + l
	}
	return d, i
}

// exponent returns a whole number, held within bounds that leave no doubt about
// the result, and its length, 0 where there is none.
func exponent(w []byte) (e, i int) {
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		i++
	}
	sign := i
	for ; i < len(w) && w[i]-'0' <= 9; i++ {
		e = min(10*e+int(w[i]-'0'), 100000)
	}
	if i == sign {
		return 0, 0
	}
	if w[0] == '-' {
		e = -e
	}
	return e, i
}

// notFinite recognises what printf of various systems writes for numbers that
// are none: nan, -nan, nan(ind), inf, infinity, 1.#INF, -1.#IND, 1.#QNAN.
func notFinite(w []byte) (v float32, ok bool) {
	neg := len(w) > 0 && w[0] == '-'
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		w = w[1:]
	}
	if len(w) > 2 && w[0] == '1' && w[1] == '.' && w[2] == '#' {
		w = w[3:]
	}
	inf := float32(math.Inf(1))
	switch {
	case HasPrefixFold(w, "nan"), HasPrefixFold(w, "ind"), HasPrefixFold(w, "qnan"), HasPrefixFold(w, "snan"):
		return float32(math.NaN()), true
	case EqualFold(w, "inf"), EqualFold(w, "infinity"):
		return signed(inf, neg), true
	}
	return 0, false
}

func signed(v float32, neg bool) float32 {
	if neg {
		return -v
	}
	return v
}

// EqualFold tells whether w is the lower-case ASCII word low, in any case.
func EqualFold(w []byte, low string) bool {
	return len(w) == len(low) && HasPrefixFold(w, low)
}

// HasPrefixFold tells whether w begins with the lower-case ASCII word low, in any case.
func HasPrefixFold(w []byte, low string) bool {
	if len(w) < len(low) {
		return false
	}
	for i := range len(low) {
		if w[i]|0x20 != low[i] {
			return false
		}
	}
	return true
}
