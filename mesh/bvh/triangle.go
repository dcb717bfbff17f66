package bvh

import (
	"math"

	"github.com/golang/geo/r3"
)

// Facets whose height is below sqrt(flatShare) of their sides have no normal to
// speak of: their distance is that of their edges, wrong by less than the
// height. The square is that of the ratio of twice the area to a product of two sides.
const flatShare = 1e-16

// A facet above shapelyShare has a normal good to 1e-10, which is what the early
// way out of distance2 relies on.
const shapelyShare = 1e-10

// distance2 returns the squared distance from p to the triangle, or any value
// above limit when it is greater than limit. It is a function of its arguments
// alone: what is at or below limit does not depend on limit.
func distance2(p, a, b, c *r3.Vector, limit float64) float64 {
	abx, aby, abz := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	acx, acy, acz := c.X-a.X, c.Y-a.Y, c.Z-a.Z
	apx, apy, apz := p.X-a.X, p.Y-a.Y, p.Z-a.Z
	nx := float64(aby*acz) - float64(abz*acy)
	ny := float64(abz*acx) - float64(abx*acz)
	nz := float64(abx*acy) - float64(aby*acx)
	nn := float64(nx*nx) + float64(ny*ny) + float64(nz*nz)
	ab2 := float64(abx*abx) + float64(aby*aby) + float64(abz*abz)
	ac2 := float64(acx*acx) + float64(acy*acy) + float64(acz*acz)
	ap2 := float64(apx*apx) + float64(apy*apy) + float64(apz*apz)
	if sides := ab2 * ac2; nn > flatShare*sides {
		h := float64(nx*apx) + float64(ny*apy) + float64(nz*apz)
		h2 := h * h
		if nn > shapelyShare*sides && h2 > (limit+1e-9*ap2)*nn {
			return math.Inf(1)
		}
		// Weights of c, b and a times nn: the projection is inside when all are positive.
		w := float64(nx*(float64(aby*apz)-float64(abz*apy))) + float64(ny*(float64(abz*apx)-float64(abx*apz))) + float64(nz*(float64(abx*apy)-float64(aby*apx)))
		v := float64(nx*(float64(apy*acz)-float64(apz*acy))) + float64(ny*(float64(apz*acx)-float64(apx*acz))) + float64(nz*(float64(apx*acy)-float64(apy*acx)))
		u := nn - v - w
		if u >= 0 && v >= 0 && w >= 0 {
			return h2 / nn
		}
		// The nearest point lies on an edge that has the projection on its outer side.
		d := math.Inf(1)
		if w < 0 {
			d = toSegment2(apx, apy, apz, abx, aby, abz, ab2)
		}
		if v < 0 {
			if e := toSegment2(apx, apy, apz, acx, acy, acz, ac2); e < d {
				d = e
			}
		}
		if u < 0 {
			if e := bcDistance2(p, b, c); e < d {
				d = e
			}
		}
		return d
	}
	d := toSegment2(apx, apy, apz, abx, aby, abz, ab2)
	if e := toSegment2(apx, apy, apz, acx, acy, acz, ac2); e < d {
		d = e
	}
	if e := bcDistance2(p, b, c); e < d {
		d = e
	}
	return d
}

func bcDistance2(p, b, c *r3.Vector) float64 {
	x, y, z := c.X-b.X, c.Y-b.Y, c.Z-b.Z
	return toSegment2(p.X-b.X, p.Y-b.Y, p.Z-b.Z, x, y, z, float64(x*x)+float64(y*y)+float64(z*z))
}

// toSegment2 is the squared distance of the point (px,py,pz) to the segment from the origin to (dx,dy,dz) of squared length dd.
func toSegment2(px, py, pz, dx, dy, dz, dd float64) float64 {
	t := float64(px*dx) + float64(py*dy) + float64(pz*dz)
	if t > 0 {
		if t >= dd {
			px, py, pz = px-dx, py-dy, pz-dz
		} else {
			t /= dd
			px, py, pz = px-float64(t*dx), py-float64(t*dy), pz-float64(t*dz)
		}
	}
	return float64(px*px) + float64(py*py) + float64(pz*pz)
}

// Feature tells what part of a facet a point lies on.
type Feature uint8

// Features of a facet.
const (
	Face   Feature = iota // inside the facet
	Edge                  // on edge k, from corner k to corner k+1
	Corner                // on corner k
)

// ClosestOnTriangle returns the point of the triangle abc nearest to p; a
// triangle without area is taken as its edges.
func ClosestOnTriangle(p, a, b, c r3.Vector) r3.Vector {
	q, _, _, _ := nearest(p, a, b, c)
	return q
}

// nearest returns the point of the triangle nearest to p, its weights of a, b
// and c, and the feature and its number.
func nearest(p, a, b, c r3.Vector) (q r3.Vector, bary [3]float64, ft Feature, k int) {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	n := ab.Cross(ac)
	nn, ab2, ac2 := n.Norm2(), ab.Norm2(), ac.Norm2()
	u, v, w := -1.0, -1.0, -1.0
	if nn > flatShare*(ab2*ac2) {
		w, v = n.Dot(ab.Cross(ap)), n.Dot(ap.Cross(ac))
		u = nn - v - w
		if u > 0 && v > 0 && w > 0 {
			bary = [3]float64{u / nn, v / nn, w / nn}
			q = p.Sub(n.Mul(n.Dot(ap) / nn))
			return q, bary, Face, 0
		}
	}
	best := math.Inf(1)
	corner := [3]r3.Vector{a, b, c}
	for e, outer := range [3]float64{w, u, v} { // edges ab, bc, ca
		if outer > 0 {
			continue
		}
		o, d := corner[e], corner[(e+1)%3].Sub(corner[e])
		t, on, at := p.Sub(o).Dot(d), Edge, e
		switch dd := d.Norm2(); {
		case !(t > 0):
			t, on = 0, Corner
		case t >= dd:
			t, on, at = 1, Corner, (e+1)%3
		default:
			t /= dd
		}
		r := o.Add(d.Mul(t))
		if on == Corner {
			r = corner[at]
		}
		if d2 := p.Sub(r).Norm2(); d2 < best {
			best, q, ft, k = d2, r, on, at
			bary = [3]float64{}
			bary[e], bary[(e+1)%3] = 1-t, t
		}
	}
	return q, bary, ft, k
}
