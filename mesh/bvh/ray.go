package bvh

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/exact"
)

// RayHit is a place where a ray meets the surface.
type RayHit struct {
	Facet int     // number in the mesh, or -1 when there is none; of several at equal T the lowest
	T     float64 // in lengths of the direction
	Side  int     // +1 when the ray leaves the metal (runs along the facet's normal), -1 when it enters
}

// Ray returns the first hit of the ray o + T d with tmin <= T <= tmax, and
// false when there is none. Facets that the ray only grazes, lying in their
// plane, are not hit; between two facets no ray slips through their common edge.
func (t *Tree) Ray(o, d r3.Vector, tmin, tmax float64) (RayHit, bool) {
	return t.RayWhere(o, d, tmin, tmax, func(RayHit) bool { return true })
}

// RayWhere is Ray among the hits that accept lets in.
func (t *Tree) RayWhere(o, d r3.Vector, tmin, tmax float64, accept func(RayHit) bool) (RayHit, bool) {
	best := RayHit{Facet: -1, T: tmax}
	t.walkRay(o, d, tmin, tmax, func(h RayHit) float64 {
		if !accept(h) {
			return best.T
		}
		if best.Facet < 0 || h.T < best.T || h.T == best.T && h.Facet < best.Facet {
			best = h
		}
		return best.T
	})
	return best, best.Facet >= 0
}

// AppendHits appends all hits of the ray with tmin <= T <= tmax, by T, then by
// facet. A ray through an edge or a corner hits every facet that holds it.
func (t *Tree) AppendHits(hits []RayHit, o, d r3.Vector, tmin, tmax float64) []RayHit {
	first := len(hits)
	t.walkRay(o, d, tmin, tmax, func(h RayHit) float64 {
		hits = append(hits, h)
		return tmax
	})
	slices.SortFunc(hits[first:], func(a, b RayHit) int {
		return cmp.Or(cmp.Compare(a.T, b.T), cmp.Compare(a.Facet, b.Facet))
	})
	return hits
}

// Blocked tells whether the segment from a to b meets the surface.
func (t *Tree) Blocked(a, b r3.Vector) bool {
	found := false
	t.walkRay(a, b.Sub(a), 0, 1, func(RayHit) float64 {
		found = true
		return math.Inf(-1)
	})
	return found
}

// span is what is asked of a ray: hits from least to most. It enters the box around
// all at start; what boxes measure of it is in units of its largest component, size.
type span struct {
	least, most, start, size float64
}

// limit is how far boxes are looked into, in single precision.
func (w *span) limit() float32 { return raised((w.most - w.start) * w.size) }

// ray is a ray in the boxes' coordinates, its origin moved near to them.
type ray struct {
	o, inv, absInv [3]float32
}

// farInv stands for the inverse of a direction component of zero: large, and small enough for products in single precision.
const farInv = 1e30

// walkRay calls hit for the facets that the ray meets, in no order; hit returns the new greatest T.
func (t *Tree) walkRay(o, d r3.Vector, tmin, tmax float64, hit func(RayHit) float64) {
	start, ok := t.enter(o, d, tmin, tmax)
	if !ok {
		return
	}
	w := span{least: tmin, most: tmax, start: start, size: max(math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z))}
	if nodes := t.wide.nodes.Load(); nodes != nil {
		t.walkWide(*nodes, o, d, w, hit)
	} else {
		t.walkNodes(o, d, w, hit)
	}
}

// walkNodes is walkRay on the nodes of the tree.
func (t *Tree) walkNodes(o, d r3.Vector, w span, hit func(RayHit) float64) {
	var r ray
	so := o.Add(d.Mul(w.start)).Sub(t.origin)
	for k, x := range [3][2]float64{{so.X, d.X}, {so.Y, d.Y}, {so.Z, d.Z}} {
		inv := w.size / x[1]
		if !(math.Abs(inv) < farInv) {
			inv = math.Copysign(farInv, inv)
		}
		r.o[k], r.inv[k], r.absInv[k] = float32(x[0]), float32(inv), float32(math.Abs(inv))
	}
	limit := w.limit()
	ox, oy, oz := r.o[0], r.o[1], r.o[2]
	ix, iy, iz := r.inv[0], r.inv[1], r.inv[2]
	ax, ay, az := r.absInv[0], r.absInv[1], r.absInv[2]
	var stack [stackSize]todo
	n := 0
	at := int32(0)
	for {
		for at >= 0 {
			nd := &t.nodes[at]
			b0, b1 := &nd.box[0], &nd.box[1]
			t0 := slab((b0[0]-ox)*ix, (b0[1]-oy)*iy, (b0[2]-oz)*iz, b0[3]*ax, b0[4]*ay, b0[5]*az)
			t1 := slab((b1[0]-ox)*ix, (b1[1]-oy)*iy, (b1[2]-oz)*iz, b1[3]*ax, b1[4]*ay, b1[5]*az)
			near, far := nd.child[0], nd.child[1]
			if t1 < t0 {
				t0, t1, near, far = t1, t0, far, near
			}
			if !(t0 <= limit) {
				goto next
			}
			if t1 <= limit {
				stack[n] = todo{far, t1}
				n++
			}
			at = near
		}
		for i, end := leafRange(at); i < end; i++ {
			c := &t.tri[i]
			if u, side := meet(&o, &d, &t.v[c[0]], &t.v[c[1]], &t.v[c[2]]); side != 0 && u >= w.least && u <= w.most {
				w.most = hit(RayHit{int(t.id[i]), u, side})
				limit = w.limit()
			}
		}
	next:
		for {
			if n == 0 {
				return
			}
			n--
			if stack[n].d <= limit {
				at = stack[n].child
				break
			}
		}
	}
}

// raised rounds a limit to single precision, safely upwards, but stays below
// the infinity that stands for a box missed.
func raised(x float64) float32 {
	if x < 0 {
		return -1
	}
	return min(float32(x)*slackShare, math.MaxFloat32)
}

// enter cuts [tmin,tmax] to the box around the mesh and returns its beginning, false when nothing is left.
func (t *Tree) enter(o, d r3.Vector, tmin, tmax float64) (float64, bool) {
	reach := t.reach + 2*float64(t.pad)
	lo, hi := tmin, tmax
	q := o.Sub(t.origin)
	for _, x := range [3][2]float64{{q.X, d.X}, {q.Y, d.Y}, {q.Z, d.Z}} {
		if x[1] == 0 {
			if math.Abs(x[0]) > reach {
				return 0, false
			}
			continue
		}
		a, b := (-reach-x[0])/x[1], (reach-x[0])/x[1]
		lo, hi = max(lo, min(a, b)), min(hi, max(a, b))
	}
	return lo, lo <= hi+1e-9*math.Abs(hi) && d != (r3.Vector{})
}

// slab returns where the ray enters a box, 0 when it starts inside, infinity
// when it misses: t is where it passes the middle of the box along each axis, h
// half of how long it stays between the sides.
func slab(tx, ty, tz, hx, hy, hz float32) float32 {
	near := max(tx-hx, ty-hy, tz-hz, 0)
	if min(tx+hx, ty+hy, tz+hz) < near {
		return inf32
	}
	return near
}

// meet returns where the ray meets the triangle and from which side, 0 for not
// at all. On which side of each edge the ray passes is decided exactly, so
// that neighbours agree on who holds it.
func meet(o, d, a, b, c *r3.Vector) (float64, int) {
	ax, ay, az := a.X-o.X, a.Y-o.Y, a.Z-o.Z
	bx, by, bz := b.X-o.X, b.Y-o.Y, b.Z-o.Z
	cx, cy, cz := c.X-o.X, c.Y-o.Y, c.Z-o.Z
	u := float64(d.X*(float64(by*cz)-float64(bz*cy))) + float64(d.Y*(float64(bz*cx)-float64(bx*cz))) + float64(d.Z*(float64(bx*cy)-float64(by*cx)))
	v := float64(d.X*(float64(cy*az)-float64(cz*ay))) + float64(d.Y*(float64(cz*ax)-float64(cx*az))) + float64(d.Z*(float64(cx*ay)-float64(cy*ax)))
	w := float64(d.X*(float64(ay*bz)-float64(az*by))) + float64(d.Y*(float64(az*bx)-float64(ax*bz))) + float64(d.Z*(float64(ax*by)-float64(ay*bx)))
	// Rounding stays below 9 eps of the permanent (see exact), which is below the product of the sums of absolute values.
	ra := math.Abs(ax) + math.Abs(ay) + math.Abs(az)
	rb := math.Abs(bx) + math.Abs(by) + math.Abs(bz)
	rc := math.Abs(cx) + math.Abs(cy) + math.Abs(cz)
	rounding := 1e-15 * (math.Abs(d.X) + math.Abs(d.Y) + math.Abs(d.Z)) * max(float64(ra*rb), float64(rb*rc), float64(rc*ra))
	if min(u, v, w) < -rounding && max(u, v, w) > rounding {
		return 0, 0
	}
	su, sv, sw := side(u, rounding), side(v, rounding), side(w, rounding)
	if su == 2 {
		su = exact.OrientRay(*o, *d, *b, *c)
	}
	if sv == 2 {
		sv = exact.OrientRay(*o, *d, *c, *a)
	}
	if sw == 2 {
		sw = exact.OrientRay(*o, *d, *a, *b)
	}
	if min(su, sv, sw) < 0 && max(su, sv, sw) > 0 || su == 0 && sv == 0 && sw == 0 {
		return 0, 0
	}
	// From the plane rather than from the three terms: it stays exact far away.
	ex, ey, ez := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	fx, fy, fz := c.X-a.X, c.Y-a.Y, c.Z-a.Z
	nx := float64(ey*fz) - float64(ez*fy)
	ny := float64(ez*fx) - float64(ex*fz)
	nz := float64(ex*fy) - float64(ey*fx)
	along := float64(nx*d.X) + float64(ny*d.Y) + float64(nz*d.Z)
	if along == 0 {
		return 0, 0
	}
	t := (float64(nx*ax) + float64(ny*ay) + float64(nz*az)) / along
	// A facet that the ray all but lies in says little about where: not beyond its corners.
	dd := float64(d.X*d.X) + float64(d.Y*d.Y) + float64(d.Z*d.Z)
	ta := (float64(d.X*ax) + float64(d.Y*ay) + float64(d.Z*az)) / dd
	tb := (float64(d.X*bx) + float64(d.Y*by) + float64(d.Z*bz)) / dd
	tc := (float64(d.X*cx) + float64(d.Y*cy) + float64(d.Z*cz)) / dd
	least, most := min(ta, tb, tc), max(ta, tb, tc)
	if slack := 1e-9 * max(-least, most); t < least-slack || t > most+slack {
		t = min(max(t, least), most)
	}
	if su+sv+sw > 0 {
		return t, 1
	}
	return t, -1
}

// side returns the sign of x when it is beyond the rounding, else 2.
func side(x, rounding float64) int {
	switch {
	case x > rounding:
		return 1
	case x < -rounding:
		return -1
	}
	return 2
}
