package exact

import "github.com/golang/geo/r3"

// Triangle holds three corners.
type Triangle [3]r3.Vector

// flat is a projection along one axis that does not turn a plane or a line
// into less: 0 drops x, 1 drops y, 2 drops z.
type flat int

// of returns the two coordinates kept, in an order that keeps the sense of rotation of axis drop.
func (p flat) of(v r3.Vector) (x, y float64) {
	switch p {
	case 0:
		return v.Y, v.Z
	case 1:
		return v.Z, v.X
	}
	return v.X, v.Y
}

// orient is Orient2D in the projection.
func (p flat) orient(a, b, c r3.Vector) int {
	ax, ay := p.of(a)
	bx, by := p.of(b)
	cx, cy := p.of(c)
	return Orient2D(ax, ay, bx, by, cx, cy)
}

// Collinear tells whether three points lie in one line. Points that coincide do.
func Collinear(a, b, c r3.Vector) bool {
	_, ok := projection(a, b, c)
	return !ok
}

// projection returns an axis along which a, b, c do not project into one line,
// and false when there is none because they lie in one line.
func projection(a, b, c r3.Vector) (flat, bool) {
	n := b.Sub(a).Cross(c.Sub(a)).Abs()
	first := flat(2)
	if n.X > n.Y && n.X > n.Z {
		first = 0
	} else if n.Y > n.Z {
		first = 1
	}
	for i := flat(0); i < 3; i++ {
		if p := (first + i) % 3; p.orient(a, b, c) != 0 {
			return p, true
		}
	}
	return 0, false
}

// Area tells whether the triangle has an area, however small.
func (t Triangle) Area() bool { return !Collinear(t[0], t[1], t[2]) }

// sides returns where the corners of u lie against the plane of t, and false
// when all lie strictly on one side.
func (t *Triangle) sides(u *Triangle) (s [3]int, meets bool) {
	for k := range u {
		s[k] = Orient3D(t[0], t[1], t[2], u[k])
	}
	return s, !(s[0] == s[1] && s[1] == s[2] && s[0] != 0)
}

// Meet tells whether two triangles, boundaries included, have a point in
// common. Both must have an area.
func Meet(t, u Triangle) bool {
	st, ok := t.sides(&u)
	if !ok {
		return false
	}
	su, ok := u.sides(&t)
	if !ok {
		return false
	}
	// The common part is convex, and each of its ends lies where an edge of one leaves the other.
	for k := range 3 {
		l := (k + 1) % 3
		if t.cutBy(u[k], u[l], st[k], st[l]) || u.cutBy(t[k], t[l], su[k], su[l]) {
			return true
		}
	}
	return false
}

// MeetBeyondCorner tells whether two triangles that share the corner t[0] =
// u[0] have another point in common. Both must have an area.
func MeetBeyondCorner(t, u Triangle) bool {
	s1, s2 := Orient3D(t[0], t[1], t[2], u[1]), Orient3D(t[0], t[1], t[2], u[2])
	if s1 == s2 && s1 != 0 {
		return false
	}
	r1, r2 := Orient3D(u[0], u[1], u[2], t[1]), Orient3D(u[0], u[1], u[2], t[2])
	if r1 == r2 && r1 != 0 {
		return false
	}
	// The common part is convex and holds the corner; followed from there, it leaves one triangle through the opposite edge.
	return t.cutBy(u[1], u[2], s1, s2) || u.cutBy(t[1], t[2], r1, r2)
}

// FoldedTogether tells whether two triangles that share the edge t[0] t[1] =
// u[0] u[1] lie in one plane on the same side of that edge, so that they
// overlap. Both must have an area.
func FoldedTogether(t, u Triangle) bool {
	if Orient3D(t[0], t[1], t[2], u[2]) != 0 {
		return false
	}
	p, _ := projection(t[0], t[1], t[2])
	return p.orient(t[0], t[1], t[2]) == p.orient(t[0], t[1], u[2])
}

// SegmentMeets tells whether the segment from a to b, ends included, has a
// point in common with the triangle, which must have an area.
func (t Triangle) SegmentMeets(a, b r3.Vector) bool {
	return t.cutBy(a, b, Orient3D(t[0], t[1], t[2], a), Orient3D(t[0], t[1], t[2], b))
}

// cutBy is SegmentMeets with the sides of the ends given.
func (t *Triangle) cutBy(a, b r3.Vector, sa, sb int) bool {
	switch {
	case sa == sb && sa != 0:
		return false
	case sa == 0 && sb == 0:
		return t.flatCutBy(a, b)
	case sa == 0:
		return t.flatHolds(a)
	case sb == 0:
		return t.flatHolds(b)
	}
	// Through the plane: inside when the line passes all edges on one side.
	pos, neg := false, false
	for k := range 3 {
		switch Orient3D(a, b, t[k], t[(k+1)%3]) {
		case 1:
			pos = true
		case -1:
			neg = true
		}
		if pos && neg {
			return false
		}
	}
	return true
}

// flatHolds tells whether p, in the plane of t, lies in t or on its boundary.
func (t *Triangle) flatHolds(p r3.Vector) bool {
	pr, ok := projection(t[0], t[1], t[2])
	if !ok {
		return false
	}
	s := pr.orient(t[0], t[1], t[2])
	for k := range 3 {
		if pr.orient(t[k], t[(k+1)%3], p) == -s {
			return false
		}
	}
	return true
}

// flatCutBy tells whether the segment a b in the plane of t has a point in common with it.
func (t *Triangle) flatCutBy(a, b r3.Vector) bool {
	if t.flatHolds(a) || t.flatHolds(b) {
		return true
	}
	pr, ok := projection(t[0], t[1], t[2])
	if !ok {
		return false
	}
	// Both ends are outside: the segment has to cross an edge. It crosses two
	// or passes a corner, so that strict and touching cases are both found
	// when the ends of each lie not strictly on one side of the other.
	for k := range 3 {
		c, d := t[k], t[(k+1)%3]
		if pr.orient(a, b, c)*pr.orient(a, b, d) > 0 || pr.orient(c, d, a)*pr.orient(c, d, b) > 0 {
			continue
		}
		if pr.orient(a, b, c) == 0 && pr.orient(a, b, d) == 0 && !pr.overlap(a, b, c, d) {
			continue // in one line, apart
		}
		return true
	}
	return false
}

// overlap tells whether two segments in one line have a point in common.
func (p flat) overlap(a, b, c, d r3.Vector) bool {
	ax, ay := p.of(a)
	bx, by := p.of(b)
	cx, cy := p.of(c)
	dx, dy := p.of(d)
	return max(ax, bx) >= min(cx, dx) && max(cx, dx) >= min(ax, bx) &&
		max(ay, by) >= min(cy, dy) && max(cy, dy) >= min(ay, by)
}
