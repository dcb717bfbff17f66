package bvh

import (
	"math"

	"github.com/golang/geo/r3"
)

// VisitBall calls visit with the facets at most r away from p, in no order
// worth relying on but always the same, until visit returns false.
func (t *Tree) VisitBall(p r3.Vector, r float64, visit func(facet int) bool) {
	r2 := float64(r * r)
	limit := float32(r2) * slackShare
	q := t.local(p)
	var stack [stackSize]int32 // visit below without its calls
	n := 0
	at := int32(0)
	for {
		for at >= 0 {
			nd := &t.nodes[at]
			b0, b1 := &nd.box[0], &nd.box[1]
			d0 := gap2(q[0], b0[0], b0[3]) + gap2(q[1], b0[1], b0[4]) + gap2(q[2], b0[2], b0[5])
			d1 := gap2(q[0], b1[0], b1[3]) + gap2(q[1], b1[1], b1[4]) + gap2(q[2], b1[2], b1[5])
			if d1 <= limit {
				stack[n] = nd.child[1]
				n++
			}
			if !(d0 <= limit) {
				goto next
			}
			at = nd.child[0]
		}
		for i, end := leafRange(at); i < end; i++ {
			w := &t.tri[i]
			if distance2(&p, &t.v[w[0]], &t.v[w[1]], &t.v[w[2]], r2) <= r2 && !visit(int(t.id[i])) {
				return
			}
		}
	next:
		if n == 0 {
			return
		}
		n--
		at = stack[n]
	}
}

// VisitBox calls visit with the facets whose own box meets the box from lo to
// hi, until visit returns false.
func (t *Tree) VisitBox(lo, hi r3.Vector, visit func(facet int) bool) {
	l, h := t.local(lo), t.local(hi)
	overlaps := func(b *box) bool {
		for k := range 3 {
			if l[k]-b[k] > b[3+k] || b[k]-h[k] > b[3+k] {
				return false
			}
		}
		return true
	}
	t.visit(overlaps, func(i int32) bool {
		a, b, c := t.corners(i)
		if outside(lo.X, hi.X, a.X, b.X, c.X) || outside(lo.Y, hi.Y, a.Y, b.Y, c.Y) || outside(lo.Z, hi.Z, a.Z, b.Z, c.Z) {
			return true
		}
		return visit(int(t.id[i]))
	})
}

func outside(lo, hi, a, b, c float64) bool {
	return math.Max(a, math.Max(b, c)) < lo || math.Min(a, math.Min(b, c)) > hi
}

// visit walks the boxes that open lets in and calls leaf with the places of their facets until it returns false.
func (t *Tree) visit(open func(*box) bool, leaf func(i int32) bool) {
	var stack [stackSize]int32
	top := 1
	for top > 0 {
		top--
		at := stack[top]
		if at >= 0 {
			nd := &t.nodes[at]
			for k := 1; k >= 0; k-- {
				if open(&nd.box[k]) {
					stack[top] = nd.child[k]
					top++
				}
			}
			continue
		}
		for i, end := leafRange(at); i < end; i++ {
			if !leaf(i) {
				return
			}
		}
	}
}
