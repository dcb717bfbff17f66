package arrange

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// kind tells how two facets meet apart from the corners they share.
type kind uint8

const (
	apart    kind = iota
	crossing      // transversally, in a segment whose ends lie inside an edge and inside a facet
	touching      // in any other way: one plane, corner on face, edge on edge
)

// end is an end of the segment in which two facets cross: the point in which
// an edge (the lesser of its two half-edges) pierces a facet, or, with edge
// none, the corner that both facets share.
type end struct {
	edge  int32
	facet int32 // or the shared vertex
}

// contact is a pair of facets that meet, a < b.
type contact struct {
	a, b int32
	kind kind
	ends [2]end
}

type triangle [3]r3.Vector

// meet classifies facets a and b exactly.
func (s *surface) meet(a, b int32) contact {
	c := contact{a: a, b: b}
	ta, tb := s.facets[a], s.facets[b]
	shared, ka, kb := 0, 0, 0
	var sharedA, sharedB [3]bool
	for i, v := range ta {
		for j, w := range tb {
			if v == w {
				shared++
				ka, kb = i, j
				sharedA[i], sharedB[j] = true, true
			}
		}
	}
	var pa, pb triangle
	pa[0], pa[1], pa[2] = s.corners(a)
	pb[0], pb[1], pb[2] = s.corners(b)
	switch shared {
	case 0:
		c.kind = s.meetApart(&c, &pa, &pb)
	case 1:
		c.kind = s.meetAtCorner(&c, &pa, &pb, ka, kb)
	case 2:
		if folded(&pa, &pb, sharedA, sharedB) {
			c.kind = touching
		}
	default:
		c.kind = touching
	}
	return c
}

// sides returns the sides of the corners of p against the plane of t, and the least and greatest.
func sides(p, t *triangle) (s [3]int, lo, hi int) {
	lo, hi = 1, -1
	for k := range 3 {
		s[k] = orient3D(t[0], t[1], t[2], p[k])
		lo, hi = min(lo, s[k]), max(hi, s[k])
	}
	return s, lo, hi
}

// meetApart classifies two facets without a common corner.
func (s *surface) meetApart(c *contact, pa, pb *triangle) kind {
	sa, lo, hi := sides(pa, pb)
	if lo > 0 || hi < 0 {
		return apart
	}
	if lo == hi { // all in one plane
		return coplanarMeet(pa, pb)
	}
	flat := hasZero(sa)
	sb, lo, hi := sides(pb, pa)
	if lo > 0 || hi < 0 {
		return apart
	}
	if flat || hasZero(sb) {
		if closedMeet(pa, pb, sa, sb) {
			return touching
		}
		return apart
	}
	n := 0
	for _, dir := range [2]struct {
		p, t   *triangle
		s      *[3]int
		of, in int32
	}{{pa, pb, &sa, c.a, c.b}, {pb, pa, &sb, c.b, c.a}} {
		for k := range 3 {
			l := (k + 1) % 3
			if dir.s[k] == dir.s[l] {
				continue
			}
			switch pierce(dir.p[k], dir.p[l], dir.t) {
			case touching:
				return touching
			case crossing:
				if n < 2 {
					c.ends[n] = end{s.edge(3*dir.of + int32(k)), dir.in}
				}
				n++
			}
		}
	}
	switch n {
	case 0:
		return apart
	case 2:
		return crossing
	}
	return touching
}

// meetAtCorner classifies two facets that share corner ka of a and kb of b:
// beyond it they meet where the edge opposite to it of one pierces the other.
func (s *surface) meetAtCorner(c *contact, pa, pb *triangle, ka, kb int) kind {
	a1, a2 := pa[(ka+1)%3], pa[(ka+2)%3]
	b1, b2 := pb[(kb+1)%3], pb[(kb+2)%3]
	sa1, sa2 := orient3D(pb[0], pb[1], pb[2], a1), orient3D(pb[0], pb[1], pb[2], a2)
	if sa1 == sa2 && sa1 != 0 {
		return apart
	}
	sb1, sb2 := orient3D(pa[0], pa[1], pa[2], b1), orient3D(pa[0], pa[1], pa[2], b2)
	if sb1 == sb2 && sb1 != 0 {
		return apart
	}
	if sa1 == 0 && sa2 == 0 && fansApart(pa, pb, ka, kb) {
		return apart
	}
	if sa1 == 0 || sa2 == 0 || sb1 == 0 || sb2 == 0 {
		if closedEdge(a1, a2, sa1, sa2, pb) || closedEdge(b1, b2, sb1, sb2, pa) {
			return touching
		}
		return apart
	}
	ea, eb := pierce(a1, a2, pb), pierce(b1, b2, pa)
	if ea == apart && eb == apart {
		return apart
	}
	if ea == touching || eb == touching || ea == eb {
		return touching
	}
	c.ends[0] = end{mesh.None, s.facets[c.a][ka]}
	if ea == crossing {
		c.ends[1] = end{s.edge(3*c.a + int32(ka+1)%3), c.b}
	} else {
		c.ends[1] = end{s.edge(3*c.b + int32(kb+1)%3), c.a}
	}
	return crossing
}

// coplanarMeet classifies two facets of one plane: two convex figures are
// apart when a side of one has all of the other strictly beyond it.
func coplanarMeet(pa, pb *triangle) kind {
	i, j, ok := projection(pa)
	if !ok || orient2D(pb[0], pb[1], pb[2], i, j) == 0 {
		if closedMeet(pa, pb, [3]int{}, [3]int{}) {
			return touching
		}
		return apart
	}
	for _, d := range [2][2]*triangle{{pa, pb}, {pb, pa}} {
		p, q := d[0], d[1]
		out := -orient2D(p[0], p[1], p[2], i, j)
		for k := range 3 {
			u, v := p[k], p[(k+1)%3]
			if orient2D(u, v, q[0], i, j) == out && orient2D(u, v, q[1], i, j) == out && orient2D(u, v, q[2], i, j) == out {
				return apart
			}
		}
	}
	return touching
}

// fansApart tells for two facets of one plane that share corners ka and kb
// whether a side at that corner surely parts them.
func fansApart(pa, pb *triangle, ka, kb int) bool {
	i, j, ok := projection(pa)
	if !ok {
		return false
	}
	for _, d := range [2]struct {
		p, q   *triangle
		kp, kq int
	}{{pa, pb, ka, kb}, {pb, pa, kb, ka}} {
		out := -orient2D(d.p[0], d.p[1], d.p[2], i, j)
		q1, q2 := d.q[(d.kq+1)%3], d.q[(d.kq+2)%3]
		v, next, prev := d.p[d.kp], d.p[(d.kp+1)%3], d.p[(d.kp+2)%3]
		if out == 0 {
			return false
		}
		if orient2D(v, next, q1, i, j) == out && orient2D(v, next, q2, i, j) == out ||
			orient2D(prev, v, q1, i, j) == out && orient2D(prev, v, q2, i, j) == out {
			return true
		}
	}
	return false
}

// pierce tells whether the segment p, q, whose ends lie on different sides of
// the plane of t, passes through t: crossing when inside, touching when on its rim.
func pierce(p, q r3.Vector, t *triangle) kind {
	s0 := orient3D(p, q, t[0], t[1])
	s1 := orient3D(p, q, t[1], t[2])
	if s0*s1 < 0 {
		return apart
	}
	s2 := orient3D(p, q, t[2], t[0])
	if s0*s2 < 0 || s1*s2 < 0 {
		return apart
	}
	if s0 == 0 || s1 == 0 || s2 == 0 {
		return touching
	}
	return crossing
}

// folded tells whether two facets that share an edge lie on each other.
func folded(pa, pb *triangle, sharedA, sharedB [3]bool) bool {
	na := pa[1].Sub(pa[0]).Cross(pa[2].Sub(pa[0]))
	nb := pb[1].Sub(pb[0]).Cross(pb[2].Sub(pb[0]))
	if na.Dot(nb) > 0 {
		return false
	}
	ia, ib := 0, 0
	for k := range 3 {
		if !sharedA[k] {
			ia = k
		}
		if !sharedB[k] {
			ib = k
		}
	}
	u, v, a, b := pa[(ia+1)%3], pa[(ia+2)%3], pa[ia], pb[ib]
	if orient3D(u, v, a, b) != 0 {
		return false
	}
	i, j, ok := projection(pa)
	return !ok || orient2D(u, v, a, i, j)*orient2D(u, v, b, i, j) >= 0
}

// projection returns the axes on which t keeps an area; none for a facet without area.
func projection(t *triangle) (i, j int, ok bool) {
	n := t[1].Sub(t[0]).Cross(t[2].Sub(t[0]))
	x, y, z := math.Abs(n.X), math.Abs(n.Y), math.Abs(n.Z)
	k := 2
	if x > y && x > z {
		k = 0
	} else if y > z {
		k = 1
	}
	for d := range 3 {
		i, j = (k+d+1)%3, (k+d+2)%3
		if orient2D(t[0], t[1], t[2], i, j) != 0 {
			return i, j, true
		}
	}
	return 0, 0, false
}

// flat tells whether facet f has no area.
func (s *surface) flat(f int32) bool {
	var t triangle
	t[0], t[1], t[2] = s.corners(f)
	_, _, ok := projection(&t)
	return !ok
}

func hasZero(s [3]int) bool { return s[0] == 0 || s[1] == 0 || s[2] == 0 }

// closedMeet tells whether two triangles with their rims have a common point;
// sa and sb are the sides of the corners against the other's plane.
func closedMeet(a, b *triangle, sa, sb [3]int) bool {
	for k := range 3 {
		l := (k + 1) % 3
		if closedEdge(a[k], a[l], sa[k], sa[l], b) || closedEdge(b[k], b[l], sb[k], sb[l], a) {
			return true
		}
	}
	return false
}

// closedEdge tells whether the segment p, q meets the triangle t with its rim;
// sp and sq are the sides of its ends against the plane of t.
func closedEdge(p, q r3.Vector, sp, sq int, t *triangle) bool {
	if sp == sq && sp != 0 {
		return false
	}
	if sp*sq < 0 {
		return pierce(p, q, t) != apart
	}
	i, j, ok := projection(t)
	if !ok {
		// No area: its edges are all there is, and every plane holds them. Rare, so err on the side of contact.
		return true
	}
	if sp == 0 && insideFlat(p, t, i, j) || sq == 0 && insideFlat(q, t, i, j) {
		return true
	}
	if sp != 0 || sq != 0 {
		return false
	}
	for k := range 3 {
		if segmentsMeet(p, q, t[k], t[(k+1)%3], i, j) {
			return true
		}
	}
	return false
}

// insideFlat tells whether p, in the plane of t, lies in t or on its rim.
func insideFlat(p r3.Vector, t *triangle, i, j int) bool {
	s := orient2D(t[0], t[1], t[2], i, j)
	for k := range 3 {
		if orient2D(t[k], t[(k+1)%3], p, i, j)*s < 0 {
			return false
		}
	}
	return true
}

// segmentsMeet tells whether two segments of one plane have a common point, ends included.
func segmentsMeet(p, q, a, b r3.Vector, i, j int) bool {
	o1, o2 := orient2D(p, q, a, i, j), orient2D(p, q, b, i, j)
	o3, o4 := orient2D(a, b, p, i, j), orient2D(a, b, q, i, j)
	if o1*o2 > 0 || o3*o4 > 0 {
		return false
	}
	if o1 == 0 && o2 == 0 && o3 == 0 && o4 == 0 {
		return overlap(axis(p, i), axis(q, i), axis(a, i), axis(b, i)) && overlap(axis(p, j), axis(q, j), axis(a, j), axis(b, j))
	}
	return true
}

func overlap(p, q, a, b float64) bool { return max(p, q) >= min(a, b) && max(a, b) >= min(p, q) }
