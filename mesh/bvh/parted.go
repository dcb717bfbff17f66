package bvh

import (
	"math"

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
func partedByEdge(a, b exact.Triangle) bool { return beyondEdge(a, b) || beyondEdge(b, a) }

// beyondEdge looks along the outward perpendiculars of a's edges in a's plane.
func beyondEdge(a, b exact.Triangle) bool {
	n := a[1].Sub(a[0]).Cross(a[2].Sub(a[0]))
	for k := range 3 {
		o := a[k]
		w := a[(k+1)%3].Sub(o).Cross(n)
		tol := partedTol * w.Norm()
		near, far := math.Inf(-1), math.Inf(1) // of a's greatest and b's least product
		for i := range 3 {
			x, y := a[i].Sub(o), b[i].Sub(o)
			near = math.Max(near, w.Dot(x)+tol*x.Norm())
			far = math.Min(far, w.Dot(y)-tol*y.Norm())
		}
		if near < far {
			return true
		}
	}
	return false
}
