package bvh

import (
	"math/bits"

	"github.com/golang/geo/r3"
)

// VisitNear calls visit with all facets at most r away from the line from a to b and some
// that lie a little further away, in no order worth relying on. It is faster where the
// tree is widened.
func (t *Tree) VisitNear(a, b r3.Vector, r float64, visit func(facet int)) {
	nodes := t.wide.nodes.Load()
	if nodes == nil {
		d := r3.Vector{X: r, Y: r, Z: r}
		t.VisitBox(least(a, b).Sub(d), most(a, b).Add(d), func(f int) bool {
			visit(f)
			return true
		})
		return
	}
	mid, half := t.local(a.Add(b).Mul(0.5)), [3]float32{}
	for k := range half {
		half[k] = t.local(b)[k] - mid[k]
	}
	limit := float32(r*r) * slackShare
	var room [4 * width]int32
	stack, at := room[:0], int32(0)
	for {
		n := &(*nodes)[at]
		for hit := within(n, &mid, &half, limit) & (1<<n.count - 1); hit != 0; hit &= hit - 1 {
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

// least and most are the corners of the box around two points.
func least(a, b r3.Vector) r3.Vector {
	return r3.Vector{X: min(a.X, b.X), Y: min(a.Y, b.Y), Z: min(a.Z, b.Z)}
}

func most(a, b r3.Vector) r3.Vector {
	return r3.Vector{X: max(a.X, b.X), Y: max(a.Y, b.Y), Z: max(a.Z, b.Z)}
}
