package limit

import (
	"math"
	"slices"
)

// Clear tells which facets have nothing opposite that matters. A piece of such a
// facet has nothing either, nor has it on the same surface in other facets.
type Clear struct {
	within float64 // mm: what is farther apart does not matter
	facet  []bool
}

// InPieces returns what is known of a mesh whose facet f is a piece of facet parent[f].
func (c *Clear) InPieces(parent []int32) *Clear {
	if c == nil {
		return nil
	}
	p := &Clear{within: c.within, facet: make([]bool, len(parent))}
	for f, q := range parent {
		p.facet[f] = c.facet[q]
	}
	return p
}

// known returns the facets that are known to be clear, as a list of its own to
// be completed; nil when nothing is known.
func (l *limiter) known() []bool {
	if c := l.opt.Clear; c != nil && l.most <= c.within && len(c.facet) == len(l.m.Facets) {
		return slices.Clone(c.facet)
	}
	return nil
}

// clear tells whether no place of the facet has anything opposite that matters:
// two places that a ball of diameter most touches are no farther apart than that.
func (l *limiter) clear(f int) bool {
	a, b, c := l.m.Triangle(f)
	p := a.Add(b).Add(c).Mul(1.0 / 3)
	size := math.Sqrt(max(p.Sub(a).Norm2(), p.Sub(b).Norm2(), p.Sub(c).Norm2()))
	return l.gauge.Clear(p, l.gauge.Normal(f), size, l.most)
}
