package bvh

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/exact"
)

// partedTol is the share of |w||e| by which a product w.e must stand off zero to
// have its sign for certain: the differences e carry 2^-53 each, the product of
// three terms five roundings more, below 2e-15 together.
const partedTol = 1e-14

// partedAtCorner tells, with certainty when it says true, that two triangles
// with the corner v in common meet nowhere else: a plane through v has the edges
// of one on one side and those of the other on the other. On flat skin it
// answers nearly all pairs, which the exact test would find in one plane.
func partedAtCorner(a, b exact.Triangle) bool {
	v := a[0]
	p, q, r, s := a[1].Sub(v), a[2].Sub(v), b[1].Sub(v), b[2].Sub(v)
	w := p.Normalize().Add(q.Normalize()).Sub(r.Normalize()).Sub(s.Normalize())
	tol := partedTol * w.Norm()
	return w.Dot(p) > tol*p.Norm() && w.Dot(q) > tol*q.Norm() && w.Dot(r) < -tol*r.Norm() && w.Dot(s) < -tol*s.Norm()
}

// partedByEdge tells, with certainty when it says true, that two triangles are
// apart because an edge of one has all of the other beyond it.
func partedByEdge(a, b *exact.Triangle) bool { return beyondEdge(a, b) || beyondEdge(b, a) }

// beyondEdge looks along the outward perpendiculars of a's edges in a's plane.
func beyondEdge(a, b *exact.Triangle) bool {
	n := a[1].Sub(a[0]).Cross(a[2].Sub(a[0]))
	for k := range 3 {
		o := a[k]
		e, f := a[(k+1)%3].Sub(o), a[(k+2)%3].Sub(o)
		w := e.Cross(n)
		x, y, z := b[0].Sub(o), b[1].Sub(o), b[2].Sub(o)
		near := max(0, w.Dot(e), w.Dot(f))
		far := min(w.Dot(x), w.Dot(y), w.Dot(z))
		// The rounding of each product is that of its own lengths at most.
		if far-near > partedTol*sum(w)*(sum(e)+sum(f)+sum(x)+sum(y)+sum(z)) {
			return true
		}
	}
	return false
}

// sum is the length along the axes, which is no less than the length.
func sum(v r3.Vector) float64 { return math.Abs(v.X) + math.Abs(v.Y) + math.Abs(v.Z) }
