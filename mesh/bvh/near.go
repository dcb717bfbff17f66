package bvh

import (
	"math/bits"

	"github.com/golang/geo/r3"
)

// VisitNear calls visit with all facets at most r away from p and some that lie a little
// further away, in no order worth relying on. It is faster where the tree is widened.
func (t *Tree) VisitNear(p r3.Vector, r float64, visit func(facet int)) {
	nodes := t.wide.nodes.Load()
	if nodes == nil {
		d := r3.Vector{X: r, Y: r, Z: r}
		t.VisitBox(p.Sub(d), p.Add(d), func(f int) bool {
			visit(f)
			return true
		})
		return
	}
	q := t.local(p)
	limit := float32(r*r) * slackShare
	var room [6 * lanes]int32
	var d [lanes]float32
	stack, at := room[:0], int32(0)
	for {
		n := &(*nodes)[at]
		for hit := gaps(n, &q, limit, &d) & (1<<n.count - 1); hit != 0; hit &= hit - 1 {
			k := n.first + int32(bits.TrailingZeros32(hit))
			if n.facets {
				visit(int(t.id[k]))
			} else {
				stack = append(stack, k)
			}
		}
		top := len(stack) - 1
		if top < 0 {
			return
		}
		at, stack = stack[top], stack[:top]
	}
}
