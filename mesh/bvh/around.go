package bvh

import "github.com/golang/geo/r3"

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
		return l[0]-b[0] <= b[3] && b[0]-h[0] <= b[3] && l[1]-b[1] <= b[4] && b[1]-h[1] <= b[4] && l[2]-b[2] <= b[5] && b[2]-h[2] <= b[5]
	}
	var stack [stackSize]int32
	top := 1 // the root waits at stack[0]
	for top > 0 {
		top--
		at := stack[top]
		if at >= 0 {
			nd := &t.nodes[at]
			for k := 1; k >= 0; k-- {
				if overlaps(&nd.box[k]) {
					stack[top] = nd.child[k]
					top++
				}
			}
			continue
		}
		for i, end := leafRange(at); i < end; i++ {
			w := &t.tri[i]
			a, b, c := &t.v[w[0]], &t.v[w[1]], &t.v[w[2]]
			if outside(lo.X, hi.X, a.X, b.X, c.X) || outside(lo.Y, hi.Y, a.Y, b.Y, c.Y) || outside(lo.Z, hi.Z, a.Z, b.Z, c.Z) {
				continue
			}
			if !visit(int(t.id[i])) {
				return
			}
		}
	}
}

// outside tells whether a, b and c all lie below lo or all above hi.
func outside(lo, hi, a, b, c float64) bool {
	return a < lo && b < lo && c < lo || a > hi && b > hi && c > hi
}
