package field

import (
	"math"

	"github.com/golang/geo/r3"
)

// Solid harmonics of the degrees 0..p, kept for all orders -n..n at index
// n*n+n+m, real and imaginary parts apart. Regular: r^n P_nm(cos t) e^(i m f)/(n+m)!,
// irregular: (n-m)! P_nm(cos t) e^(i m f)/r^(n+1). With these
//
//	1/|x-y| = sum conj(R_nm(y)) S_nm(x),  |y| < |x|,
//
// and every shift is a plain sum without coefficients (W. Dehnen, Computational
// Astrophysics and Cosmology 1 (2014) 1, whose recurrences are used).

// terms is the number of coefficients up to degree p.
func terms(p int) int { return (p + 1) * (p + 1) }

// harmonic is a set of coefficients.
type harmonic struct{ re, im []float64 }

func newHarmonic(p int) harmonic {
	b := make([]float64, 2*terms(p))
	return harmonic{b[:terms(p):terms(p)], b[terms(p):]}
}

func (h harmonic) zero() {
	clear(h.re)
	clear(h.im)
}

// regular fills h with the regular harmonics of v.
func (h harmonic) regular(p int, v r3.Vector) {
	re, im := h.re, h.im
	r2 := v.Norm2()
	re[0], im[0] = 1, 0
	for n := 1; n <= p; n++ {
		c, d := n*n+n, n*n-n // index of (n,0) and (n-1,0)
		e := (n-2)*(n-2) + n - 2
		for m := 0; m < n; m++ {
			k := 1 / float64(n*n-m*m)
			a := float64(2*n-1) * v.Z * k
			re[c+m], im[c+m] = a*re[d+m], a*im[d+m]
			if m <= n-2 {
				b := r2 * k
				re[c+m] -= b * re[e+m]
				im[c+m] -= b * im[e+m]
			}
		}
		k := 1 / float64(2*n)
		re[c+n] = (v.X*re[d+n-1] - v.Y*im[d+n-1]) * k
		im[c+n] = (v.X*im[d+n-1] + v.Y*re[d+n-1]) * k
	}
	h.mirror(p)
}

// irregular fills h with the irregular harmonics of v.
func (h harmonic) irregular(p int, v r3.Vector) {
	re, im := h.re, h.im
	i2 := 1 / v.Norm2()
	x, y, z := v.X*i2, v.Y*i2, v.Z*i2
	re[0], im[0] = math.Sqrt(i2), 0
	for n := 1; n <= p; n++ {
		c, d := n*n+n, n*n-n
		e := (n-2)*(n-2) + n - 2
		o := float64(2*n - 1)
		for m := 0; m < n; m++ {
			a := o * z
			re[c+m], im[c+m] = a*re[d+m], a*im[d+m]
			if m <= n-2 {
				b := float64((n-1)*(n-1)-m*m) * i2
				re[c+m] -= b * re[e+m]
				im[c+m] -= b * im[e+m]
			}
		}
		re[c+n] = (x*re[d+n-1] - y*im[d+n-1]) * o
		im[c+n] = (x*im[d+n-1] + y*re[d+n-1]) * o
	}
	h.mirror(p)
}

// mirror fills the negative orders: h(n,-m) = (-1)^m conj h(n,m).
func (h harmonic) mirror(p int) {
	for n := 1; n <= p; n++ {
		c := n*n + n
		for m := 1; m <= n; m++ {
			if m&1 == 0 {
				h.re[c-m], h.im[c-m] = h.re[c+m], -h.im[c+m]
			} else {
				h.re[c-m], h.im[c-m] = -h.re[c+m], h.im[c+m]
			}
		}
	}
}

// addFar adds to the moments h the charge and dipole along normal at v (both
// times the weight), h.scratch being the regular harmonics of v.
func (h harmonic) addFar(p int, r harmonic, charge float64, dipole r3.Vector) {
	for i := range h.re {
		h.re[i] += charge * r.re[i]
		h.im[i] -= charge * r.im[i]
	}
	if dipole == (r3.Vector{}) {
		return
	}
	// d/dz R_nm = R_(n-1)m, (d/dx - i d/dy) R_nm = R_(n-1)(m-1), (d/dx + i d/dy) R_nm = -R_(n-1)(m+1).
	hx, hy := 0.5*dipole.X, 0.5*dipole.Y
	for n := 1; n <= p; n++ {
		c, d := n*n+n, n*n-n
		for m := -n; m <= n; m++ {
			var gr, gi float64
			if m > -n && m < n {
				gr, gi = dipole.Z*r.re[d+m], dipole.Z*r.im[d+m]
			}
			if m+1 <= n-1 { // (hx - i hy) times -R_(n-1)(m+1)
				a, b := r.re[d+m+1], r.im[d+m+1]
				gr -= hx*a + hy*b
				gi -= hx*b - hy*a
			}
			if m-1 >= 1-n { // (hx + i hy) times R_(n-1)(m-1)
				a, b := r.re[d+m-1], r.im[d+m-1]
				gr += hx*a - hy*b
				gi += hx*b + hy*a
			}
			h.re[c+m] += gr
			h.im[c+m] -= gi
		}
	}
}

// shiftMoments adds to h, about another centre, the moments m; r holds the
// regular harmonics of the old centre seen from the new one.
func (h harmonic) shiftMoments(p int, m, r harmonic) {
	for n := 0; n <= p; n++ {
		for k := 0; k <= n; k++ {
			h.convolve(n, k, n-k, m, r)
		}
	}
}

// convolve adds to the degree n of h, for orders 0..n, the product of the degree k of m and the conjugate degree j = n-k of r.
func (h harmonic) convolve(n, k, j int, m, r harmonic) {
	cn, ck, cj := n*n+n, k*k+k, j*j+j
	for o := 0; o <= n; o++ {
		lo, hi := max(-k, o-j), min(k, o+j)
		var sr, si float64
		for l := lo; l <= hi; l++ {
			a, b := m.re[ck+l], m.im[ck+l]
			c, d := r.re[cj+o-l], r.im[cj+o-l]
			sr += a*c + b*d
			si += b*c - a*d
		}
		h.re[cn+o] += sr
		h.im[cn+o] += si
	}
}

// addLocal adds to the local expansion h (orders 0..n only; without the sign
// (-1)^n) the moments m, s being the irregular harmonics of the target's centre
// seen from the source's. Terms of total degree above p are left out: they are
// no larger than those the cut at p loses anyway.
func (h harmonic) addLocal(p int, m, s harmonic) {
	for n := 0; n <= p; n++ {
		cn := n*n + n
		for o := 0; o <= n; o++ {
			var sr, si float64
			for k := 0; k <= p-n; k++ {
				ck := k*k + k
				cs := (n+k)*(n+k) + n + k + o
				w := 2*k + 1
				ma, mb := m.re[ck-k:ck-k+w], m.im[ck-k:ck-k+w]
				sa, sb := s.re[cs-k:cs-k+w], s.im[cs-k:cs-k+w]
				for l := range ma {
					a, b, c, d := ma[l], mb[l], sa[l], sb[l]
					sr += a*c - b*d
					si += a*d + b*c
				}
			}
			h.re[cn+o] += sr
			h.im[cn+o] += si
		}
	}
}

// signLocal puts the sign (-1)^n on a local expansion and fills its negative orders.
func (h harmonic) signLocal(p int) {
	for n := 1; n <= p; n += 2 {
		for i := n*n + n; i <= n*n+2*n; i++ {
			h.re[i], h.im[i] = -h.re[i], -h.im[i]
		}
	}
	h.mirror(p)
}

// shiftLocal adds to h (orders 0..n) the local expansion l, r holding the regular harmonics
// of h's centre seen from l's.
func (h harmonic) shiftLocal(p int, l, r harmonic) {
	for k := 0; k <= p; k++ {
		ck := k*k + k
		for o := 0; o <= k; o++ {
			var sr, si float64
			for n := k; n <= p; n++ {
				cn, j := n*n+n, n-k
				cj := j*j + j
				for m := o - j; m <= o+j; m++ {
					a, b := l.re[cn+m], l.im[cn+m]
					c, d := r.re[cj+m-o], r.im[cj+m-o]
					sr += a*c + b*d
					si += b*c - a*d
				}
			}
			h.re[ck+o] += sr
			h.im[ck+o] += si
		}
	}
}
