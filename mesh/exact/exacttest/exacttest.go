// Package exacttest computes with points in rational numbers, for tests of
// what must be exact.
package exacttest

import (
	"math/big"

	"github.com/golang/geo/r3"
)

// Vector is a point or vector of rational numbers.
type Vector [3]*big.Rat

// Of returns a vector as rational numbers, which hold all finite doubles.
func Of(v r3.Vector) Vector {
	return Vector{new(big.Rat).SetFloat64(v.X), new(big.Rat).SetFloat64(v.Y), new(big.Rat).SetFloat64(v.Z)}
}

// Minus returns a - b.
func (a Vector) Minus(b Vector) Vector {
	return Vector{new(big.Rat).Sub(a[0], b[0]), new(big.Rat).Sub(a[1], b[1]), new(big.Rat).Sub(a[2], b[2])}
}

// Dot returns the scalar product.
func (a Vector) Dot(b Vector) *big.Rat {
	s := new(big.Rat)
	for k := range a {
		s.Add(s, new(big.Rat).Mul(a[k], b[k]))
	}
	return s
}

// Cross returns the vector product.
func (a Vector) Cross(b Vector) Vector {
	var r Vector
	for k := range r {
		i, j := (k+1)%3, (k+2)%3
		r[k] = new(big.Rat).Sub(new(big.Rat).Mul(a[i], b[j]), new(big.Rat).Mul(a[j], b[i]))
	}
	return r
}

// Common returns the corners of the common part of two triangles: the second
// cut by the plane of the first, which has an area, and by the planes through its
// edges across it.
func Common(a, b [3]r3.Vector) []Vector {
	t := [3]Vector{Of(a[0]), Of(a[1]), Of(a[2])}
	n := t[1].Minus(t[0]).Cross(t[2].Minus(t[0]))
	poly := []Vector{Of(b[0]), Of(b[1]), Of(b[2])}
	poly = keep(poly, t[0], n)
	poly = keep(poly, t[0], t[2].Minus(t[0]).Cross(t[1].Minus(t[0])))
	for k := range 3 {
		poly = keep(poly, t[k], n.Cross(t[(k+1)%3].Minus(t[k])))
	}
	return poly
}

// keep returns the part of a convex polygon on the side n.(p-o) >= 0.
func keep(poly []Vector, o, n Vector) []Vector {
	var out []Vector
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		dp, dq := n.Dot(p.Minus(o)), n.Dot(q.Minus(o))
		if dp.Sign() >= 0 {
			out = append(out, p)
		}
		if dp.Sign()*dq.Sign() < 0 {
			s := new(big.Rat).Quo(dp, new(big.Rat).Sub(dp, dq))
			d := q.Minus(p)
			for k := range d {
				d[k].Add(p[k], d[k].Mul(d[k], s))
			}
			out = append(out, d)
		}
	}
	return out
}
