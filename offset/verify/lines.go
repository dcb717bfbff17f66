package verify

import (
	"math"

	"github.com/golang/geo/r3"
)

// pair is a piece of an edge of the grown surface and an edge of the nominal one.
// Places on either are shares of the way, 0 to 1.
type pair struct {
	e, u, w            r3.Vector // along the piece, along the edge, from the edge's start to the piece's
	ee, eu, uu, ew, uw float64
	t, d2              float64 // where they come nearest, and the square of the distance there
}

// pairOf takes the piece from a to b and the edge from p to q.
func pairOf(a, b, p, q r3.Vector) pair {
	x := pair{e: b.Sub(a), u: q.Sub(p), w: a.Sub(p)}
	x.ee, x.eu, x.uu, x.ew, x.uw = x.e.Norm2(), x.e.Dot(x.u), x.u.Norm2(), x.e.Dot(x.w), x.u.Dot(x.w)
	if den := x.ee*x.uu - x.eu*x.eu; den > 1e-12*x.ee*x.uu {
		x.t = share(x.eu*x.uw-x.uu*x.ew, den)
	}
	r := share(x.eu*x.t+x.uw, x.uu)
	x.t = share(x.eu*r-x.ew, x.ee)
	x.d2 = x.w.Add(x.e.Mul(x.t)).Sub(x.u.Mul(r)).Norm2()
	return x
}

// share is x of a whole, between none and all of it.
func share(x, whole float64) float64 {
	if whole <= 0 {
		return 0
	}
	return min(max(x/whole, 0), 1)
}

// at returns the place of the edge nearest to place t of the piece, and the distance.
func (x *pair) at(t float64) (r, d float64) {
	return share(x.eu*t+x.uw, x.uu), x.away(t).Norm()
}

// away leads from the place of the edge nearest to place t of the piece to that.
func (x *pair) away(t float64) r3.Vector {
	return x.w.Add(x.e.Mul(t)).Sub(x.u.Mul(share(x.eu*t+x.uw, x.uu)))
}

// nearest is the place of the piece where it comes nearest to the edge for an allowance
// that rises along that by rise, among those beside the edge; where there are none, just
// the nearest. The allowance at the nearest place of the edge changes evenly along the
// piece, by k, and the distance is the root of d2 + m2 (t - t0)^2.
func (x *pair) nearest(rise float64) float64 {
	k := rise * x.eu / x.uu
	m2 := x.ee - x.eu*x.eu/x.uu
	if k == 0 || math.IsNaN(k) {
		return x.t
	}
	t := math.Copysign(math.Inf(1), k) // along a piece that runs about as the edge does
	if m2 > k*k {
		t0 := (x.eu*x.uw/x.uu - x.ew) / m2
		off := x.w.Add(x.e.Mul(t0))
		off = off.Sub(x.u.Mul(off.Dot(x.u) / x.uu))
		t = t0 + k*math.Sqrt(off.Norm2()/(m2*(m2-k*k)))
	}
	from, to := -x.uw/x.eu, (x.uu-x.uw)/x.eu // k is not 0: nor is eu
	from, to = max(min(from, to), 0), min(max(from, to), 1)
	if from > to {
		return x.t
	}
	return min(max(t, from), to)
}

// over is the place of the piece that lies straight over the edge along the normal n
// of a facet beside it, if there is one.
func (x *pair) over(n r3.Vector) (t float64, ok bool) {
	wall := n.Cross(x.u)
	den := wall.Dot(x.e)
	if den == 0 {
		return 0, false
	}
	t = -wall.Dot(x.w) / den
	if !(t > 0 && t < 1) {
		return 0, false
	}
	r := (x.eu*t + x.uw) / x.uu
	return t, r >= 0 && r <= 1
}

// apart tells whether the straight lines through a and b and through p and q, which
// must not be about parallel, pass each other at more than the distance d.
func apart(a, b, p, q r3.Vector, d float64) bool {
	e, u := b.Sub(a), q.Sub(p)
	c := e.Cross(u)
	cc, h := c.Norm2(), a.Sub(p).Dot(c)
	return h*h > d*d*cc && cc > 1e-6*e.Norm2()*u.Norm2()
}
