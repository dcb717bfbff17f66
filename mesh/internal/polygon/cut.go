package polygon

import (
	"math"

	"skinstock/mesh/file"
)

// cut adds the triangles of a polygon: a fan where it is convex, ears clipped
// off one by one where it is not (Meisters 1975: every simple polygon of four
// corners or more has two ears). The polygon is seen along the axis its area
// faces most, so every test is made on coordinates of the file.
func (b *Builder) cut(corners []int32) error {
	b.flatten(corners)
	if b.convex() {
		for i := 2; i < len(corners); i++ {
			b.triangle(corners[0], corners[i-1], corners[i])
		}
		return nil
	}
	if len(corners) > maxClipped {
		return fault(file.ErrTooLarge, "export triangles", "a face that is not convex has more than %d corners", maxClipped)
	}
	b.left = b.left[:0]
	for i := range corners {
		b.left = append(b.left, int32(i))
	}
	for len(b.left) > 3 {
		i := b.ear()
		if b.work > maxWork {
			return fault(file.ErrTooLarge, "export triangles", "the faces are too intricate to be cut into triangles")
		}
		if i < 0 {
			return fault(file.ErrUnsupported, "export triangles", "a face of %d corners crosses itself and cannot be cut into triangles", len(corners))
		}
		p, q, r := b.around(i)
		b.triangle(corners[p], corners[q], corners[r])
		b.left = append(b.left[:i], b.left[i+1:]...)
	}
	b.triangle(corners[b.left[0]], corners[b.left[1]], corners[b.left[2]])
	return nil
}

// flatten projects the polygon along the largest component of its area (Newell's sum), counterclockwise.
func (b *Builder) flatten(corners []int32) {
	var area [3]float64
	at := func(i int) (p [3]float64) {
		for k, v := range b.Vertices[corners[i%len(corners)]] {
			p[k] = float64(v)
		}
		return p
	}
	o := at(0)
	for i := range corners {
		p, q := at(i), at(i+1)
		for k := range 3 {
			u, v := (k+1)%3, (k+2)%3
			area[k] += float64((p[u]-o[u])*(q[v]-o[v])) - float64((p[v]-o[v])*(q[u]-o[u]))
		}
	}
	axis := 0
	for k := range 3 {
		if math.Abs(area[k]) > math.Abs(area[axis]) {
			axis = k
		}
	}
	u, v := (axis+1)%3, (axis+2)%3
	if area[axis] < 0 {
		u, v = v, u
	}
	b.flat = b.flat[:0]
	for i := range corners {
		p := at(i)
		b.flat = append(b.flat, [2]float64{p[u], p[v]})
	}
}

// turn returns twice the area of a triangle of the flat polygon, positive when it turns left.
func (b *Builder) turn(i, j, k int32) float64 {
	p, q, r := b.flat[i], b.flat[j], b.flat[k]
	return float64((q[0]-p[0])*(r[1]-p[1])) - float64((q[1]-p[1])*(r[0]-p[0]))
}

// convex tells whether all triangles of the fan around the first corner turn
// left, and all corners of the polygon too.
func (b *Builder) convex() bool {
	n := int32(len(b.flat))
	for i := range n {
		if b.turn(i, (i+1)%n, (i+2)%n) <= 0 {
			return false
		}
		if i > 1 && b.turn(0, i-1, i) <= 0 {
			return false
		}
	}
	return true
}

// around returns the corner at place i of what is left, between its neighbours.
func (b *Builder) around(i int) (p, q, r int32) {
	n := len(b.left)
	return b.left[(i+n-1)%n], b.left[i], b.left[(i+1)%n]
}

// ear returns the place of a corner that can be cut off, or -1. Corners
// without a turn are cut off only when nothing else is left.
func (b *Builder) ear() int {
	straight := -1
	for i := range b.left {
		p, q, r := b.around(i)
		t := b.turn(p, q, r)
		if t > 0 && b.free(p, q, r) {
			return i
		}
		if t == 0 && straight < 0 {
			straight = i
		}
		b.work++
	}
	return straight
}

// free tells whether no other corner lies in or on the triangle, except at one of its corners.
func (b *Builder) free(p, q, r int32) bool {
	b.work += len(b.left)
	for _, i := range b.left {
		if i == p || i == q || i == r {
			continue
		}
		f := b.flat[i]
		if f == b.flat[p] || f == b.flat[q] || f == b.flat[r] {
			continue
		}
		if b.turn(p, q, i) >= 0 && b.turn(q, r, i) >= 0 && b.turn(r, p, i) >= 0 {
			return false
		}
	}
	return true
}
