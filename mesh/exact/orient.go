package exact

import (
	"math"
	"math/big"

	"github.com/golang/geo/r3"
)

// eps is half the distance from 1 to the next double: the greatest relative error of one rounding.
const eps = 0x1p-53

// filter3 bounds the error of the 3 x 3 determinant relative to its permanent
// (the same sum over absolute values). Each of the six products passes 3
// roundings of differences, 2 of products, 1 of a difference and 2 of the
// outer sum, so that |error| <= ((1+eps)^8 - 1) P. The permanent as computed
// may be smaller than P by a factor (1-eps)^8. Both together stay below 9 eps.
const filter3 = 9 * eps

// filter2 is the like of filter3 for the 2 x 2 determinant: 2 roundings of
// differences, 1 of a product and 1 of the outer difference, below 5 eps.
const filter2 = 5 * eps

// leastPermanent keeps the filters away from products that round below the range of normal doubles.
const leastPermanent = 1e-250

// Orient3D tells on which side of the plane through a, b, c the point d lies:
// +1 on the side from which a, b, c run counterclockwise (outside, for a
// facet), -1 on the other, 0 in the plane. It is the sign of
// ((b-a) x (c-a)) . (d-a).
func Orient3D(a, b, c, d r3.Vector) int {
	ax, ay, az := a.X-d.X, a.Y-d.Y, a.Z-d.Z
	bx, by, bz := b.X-d.X, b.Y-d.Y, b.Z-d.Z
	cx, cy, cz := c.X-d.X, c.Y-d.Y, c.Z-d.Z
	bxcy, cxby := float64(bx*cy), float64(cx*by)
	cxay, axcy := float64(cx*ay), float64(ax*cy)
	axby, bxay := float64(ax*by), float64(bx*ay)
	det := float64(az*(bxcy-cxby)) + float64(bz*(cxay-axcy)) + float64(cz*(axby-bxay))
	perm := float64(math.Abs(az)*(math.Abs(bxcy)+math.Abs(cxby))) +
		float64(math.Abs(bz)*(math.Abs(cxay)+math.Abs(axcy))) +
		float64(math.Abs(cz)*(math.Abs(axby)+math.Abs(bxay)))
	if perm > leastPermanent {
		if bound := filter3 * perm; det > bound {
			return -1
		} else if det < -bound {
			return 1
		}
	} else if az == 0 && bz == 0 && cz == 0 ||
		ay == 0 && by == 0 && cy == 0 || ax == 0 && bx == 0 && cx == 0 {
		return 0 // all four in a plane parallel to the axes: a difference is zero only between equals
	}
	return -orient3DExact(a, b, c, d)
}

// OrientRay tells on which side of the edge from a to b the ray from o in
// direction d passes: the sign of d . ((a-o) x (b-o)), +1 when the edge runs
// counterclockwise around the ray seen against d. Running the edge through
// the other way changes the sign.
func OrientRay(o, d, a, b r3.Vector) int {
	var buf [9][2]float64
	ax, ay, az := difference(buf[0][:0], a.X, o.X), difference(buf[1][:0], a.Y, o.Y), difference(buf[2][:0], a.Z, o.Z)
	bx, by, bz := difference(buf[3][:0], b.X, o.X), difference(buf[4][:0], b.Y, o.Y), difference(buf[5][:0], b.Z, o.Z)
	dx, dy, dz := difference(buf[6][:0], d.X, 0), difference(buf[7][:0], d.Y, 0), difference(buf[8][:0], d.Z, 0)
	for _, e := range [...][]float64{ax, ay, az, bx, by, bz, dx, dy, dz} {
		if !inRange(e) {
			return orientRayRational(o, d, a, b)
		}
	}
	return determinant(dx, dy, dz, ax, ay, az, bx, by, bz)
}

// orientRayRational shifts the ray to the origin, where its direction is a
// point like the others; the differences that this takes are exact here.
func orientRayRational(o, d, a, b r3.Vector) int {
	var m [3][3]*big.Rat
	for i, p := range [...]r3.Vector{d, a, b} {
		for k, x := range [...][2]float64{{p.X, o.X}, {p.Y, o.Y}, {p.Z, o.Z}} {
			u, v := new(big.Rat).SetFloat64(x[0]), new(big.Rat).SetFloat64(x[1])
			if u == nil || v == nil {
				return 0
			}
			if i > 0 {
				u.Sub(u, v)
			}
			m[i][k] = u
		}
	}
	return ratDeterminant(&m)
}

// orient3DExact returns the sign of the determinant with rows a-d, b-d, c-d.
func orient3DExact(a, b, c, d r3.Vector) int {
	var buf [9][2]float64
	ax, ay, az := difference(buf[0][:0], a.X, d.X), difference(buf[1][:0], a.Y, d.Y), difference(buf[2][:0], a.Z, d.Z)
	bx, by, bz := difference(buf[3][:0], b.X, d.X), difference(buf[4][:0], b.Y, d.Y), difference(buf[5][:0], b.Z, d.Z)
	cx, cy, cz := difference(buf[6][:0], c.X, d.X), difference(buf[7][:0], c.Y, d.Y), difference(buf[8][:0], c.Z, d.Z)
	for _, e := range [...][]float64{ax, ay, az, bx, by, bz, cx, cy, cz} {
		if !inRange(e) {
			return orient3DRational(a, b, c, d)
		}
	}
	return determinant(ax, ay, az, bx, by, bz, cx, cy, cz)
}

// determinant returns the sign of the determinant with rows a, b, c.
func determinant(ax, ay, az, bx, by, bz, cx, cy, cz []float64) int {
	var m0, m1, m2 [maxFactor]float64
	var t0, t1, t2 [64]float64
	var u [128]float64
	var w [192]float64
	s0 := product(t0[:0], minor(m0[:0], bx, by, cx, cy), az)
	s1 := product(t1[:0], minor(m1[:0], cx, cy, ax, ay), bz)
	s2 := product(t2[:0], minor(m2[:0], ax, ay, bx, by), cz)
	return sign(sum(w[:0], sum(u[:0], s0, s1), s2))
}

// minor appends px*qy - qx*py to the empty buffer buf.
func minor(buf, px, py, qx, qy []float64) []float64 {
	var b0, b1 [8]float64
	return sum(buf, product(b0[:0], px, qy), negate(product(b1[:0], qx, py)))
}

// orient3DRational is orient3DExact for coordinates of extreme size. Those that are no numbers give 0.
func orient3DRational(a, b, c, d r3.Vector) int {
	var m [3][3]*big.Rat
	for i, p := range [...]r3.Vector{a, b, c} {
		for k, x := range [...][2]float64{{p.X, d.X}, {p.Y, d.Y}, {p.Z, d.Z}} {
			u, v := new(big.Rat).SetFloat64(x[0]), new(big.Rat).SetFloat64(x[1])
			if u == nil || v == nil {
				return 0
			}
			m[i][k] = u.Sub(u, v)
		}
	}
	return ratDeterminant(&m)
}

func ratDeterminant(m *[3][3]*big.Rat) int {
	det := new(big.Rat)
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		t := ratMinor(m[i][0], m[i][1], m[j][0], m[j][1])
		det.Add(det, t.Mul(t, m[k][2]))
	}
	return det.Sign()
}

func ratMinor(px, py, qx, qy *big.Rat) *big.Rat {
	u, v := new(big.Rat).Mul(px, qy), new(big.Rat).Mul(qx, py)
	return u.Sub(u, v)
}

// Orient2D tells how the points (ax,ay), (bx,by), (cx,cy) run: +1
// counterclockwise, -1 clockwise, 0 in one line.
func Orient2D(ax, ay, bx, by, cx, cy float64) int {
	l := float64((ax - cx) * (by - cy))
	r := float64((ay - cy) * (bx - cx))
	det := l - r
	if perm := math.Abs(l) + math.Abs(r); perm > leastPermanent {
		if bound := filter2 * perm; det > bound {
			return 1
		} else if det < -bound {
			return -1
		}
	}
	return orient2DExact(ax, ay, bx, by, cx, cy)
}

func orient2DExact(ax, ay, bx, by, cx, cy float64) int {
	var buf [4][2]float64
	px, py := difference(buf[0][:0], ax, cx), difference(buf[1][:0], ay, cy)
	qx, qy := difference(buf[2][:0], bx, cx), difference(buf[3][:0], by, cy)
	for _, e := range [...][]float64{px, py, qx, qy} {
		if !inRange(e) {
			return orient2DRational(ax, ay, bx, by, cx, cy)
		}
	}
	var m [maxFactor]float64
	return sign(minor(m[:0], px, py, qx, qy))
}

func orient2DRational(ax, ay, bx, by, cx, cy float64) int {
	var d [4]*big.Rat
	for i, x := range [...][2]float64{{ax, cx}, {ay, cy}, {bx, cx}, {by, cy}} {
		u, v := new(big.Rat).SetFloat64(x[0]), new(big.Rat).SetFloat64(x[1])
		if u == nil || v == nil {
			return 0
		}
		d[i] = u.Sub(u, v)
	}
	return ratMinor(d[0], d[1], d[2], d[3]).Sign()
}
