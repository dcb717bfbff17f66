package bvh

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh/exact"
)

// Winding returns how often the surface winds around p: 1 inside a simple
// closed part, 0 outside and in its cavities, 2 where two shells overlap, -1
// inside a shell turned inside out. It is exact for a closed surface that does
// not pass through p: the signed crossings of the ray from p along +z are
// counted with exact predicates, and a ray through an edge or a corner counts
// once by a half-open rule.
func (t *Tree) Winding(p r3.Vector) int {
	q := t.local(p)
	n := 0
	var stack [stackSize]int32
	top := 1 // the root waits at stack[0]
	for top > 0 {
		top--
		at := stack[top]
		if at >= 0 {
			nd := &t.nodes[at]
			for k := range nd.box {
				if above(&q, &nd.box[k]) {
					stack[top] = nd.child[k]
					top++
				}
			}
			continue
		}
		for i, end := leafRange(at); i < end; i++ {
			a, b, c := t.corners(i)
			n += crossing(p, a, b, c)
		}
	}
	return n
}

// Inside tells whether p lies in the metal of a closed surface.
func (t *Tree) Inside(p r3.Vector) bool { return t.Winding(p) > 0 }

// above tells whether the upward ray from q may meet the box.
func above(q *[3]float32, b *box) bool {
	return q[0]-b[0] <= b[3] && b[0]-q[0] <= b[3] &&
		q[1]-b[1] <= b[4] && b[1]-q[1] <= b[4] && q[2]-b[2] <= b[5]
}

// crossing returns +1 where the upward ray from p leaves through the facet, -1 where it enters, 0 where it misses.
func crossing(p, a, b, c r3.Vector) int {
	if p.Z > max(a.Z, b.Z, c.Z) {
		return 0
	}
	turns := edgeTurn(p, a, b) + edgeTurn(p, b, c) + edgeTurn(p, c, a)
	if turns == 0 {
		return 0
	}
	// A facet that faces up (turns > 0) is left when p is below it.
	if exact.Orient3D(a, b, c, p) == -turns {
		return turns
	}
	return 0
}

// edgeTurn counts the edge from u to v when, seen from above, the ray from p
// along +x crosses it: +1 upwards in y, -1 downwards. The sum around a
// triangle is how often it runs around p. An edge run through the other way
// counts the negative, also when p lies on it.
func edgeTurn(p, u, v r3.Vector) int {
	if (u.Y <= p.Y) == (v.Y <= p.Y) {
		return 0
	}
	if u.Y <= p.Y {
		if exact.Orient2D(u.X, u.Y, v.X, v.Y, p.X, p.Y) > 0 {
			return 1
		}
		return 0
	}
	if exact.Orient2D(v.X, v.Y, u.X, u.Y, p.X, p.Y) > 0 {
		return -1
	}
	return 0
}
