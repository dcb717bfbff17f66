package bvh

import (
	"math/bits"

	"github.com/golang/geo/r3"
)

// four is how many facets are measured at once.
const four = 4

// nearestFacet is the nearest facet found so far, -1 for none, with the square of its distance, and
// places of the leaves' order with facets still to be measured.
type nearestFacet struct {
	p     r3.Vector
	best  float64
	facet int
	n     int
	wait  [four + width]int32
}

// closestWide is closest on the wide nodes, with best and facet as a hint has left them.
func (t *Tree) closestWide(nodes []wideNode, p r3.Vector, best float64, facet int) int {
	q := t.local(p)
	s := nearestFacet{p: p, best: best, facet: facet}
	limit := float32(best) * slackShare
	var room [4 * width]todo
	var d [width]float32
	stack := room[:0]
	for at := int32(0); at >= 0; {
		n := &nodes[at]
		hit := gaps(n, &q, limit, &d) & (1<<n.count - 1)
		if !n.facets && hit != 0 {
			stack, at = push(stack, n, hit, &d)
			continue
		}
		for ; hit != 0; hit &= hit - 1 {
			s.wait[s.n] = n.first + int32(bits.TrailingZeros32(hit))
			s.n++
		}
		if s.n >= four {
			s.measure(t, four)
			limit = float32(s.best) * slackShare
		}
		stack, at = pop(stack, limit)
	}
	s.measure(t, 1)
	return s.facet
}

// measure measures facets that wait, as long as there are so many.
func (s *nearestFacet) measure(t *Tree, least int) {
	for s.n >= least {
		first := max(s.n-four, 0)
		for i := s.n; i < four; i++ {
			s.wait[i] = s.wait[0]
		}
		at := (*[four]int32)(s.wait[first:])
		var d [four]float64
		distances(&t.tri[0], &t.v[0], at, &s.p, &d)
		for k, e := range d {
			if !(e <= s.best) {
				continue
			}
			f := int(t.id[at[k]])
			if e < s.best || s.facet < 0 || f < s.facet {
				s.best, s.facet = e, f
			}
		}
		s.n = first
	}
}
