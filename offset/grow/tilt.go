package grow

import (
	"context"

	"github.com/golang/geo/r3"
)

const (
	// steepest bounds the slope of an allowance that is answered to: over a sliver of a facet any slope shows.
	steepest = 0.5

	// tiltMost is the longest stretch of a move, as a share of it. Beyond it the
	// move runs along the facet rather than off it, and stretching helps no more.
	tiltMost = 0.02
)

// tilt stretches the moves of vertices where the allowance varies. The stock
// that a facet asks for ends in the plane of the points x + a(x) n, which is
// tilted against the facet by the slope g of a. A vertex that moves by d stands
// above it when (n - g).d >= a, which is more than n.d >= a where d leans
// towards the side that asks for more.
func (g *grower) tilt(ctx context.Context, r *Result) error {
	return g.parallel(ctx, len(g.sloped), chunk, func(lo, hi int) {
		for _, v := range g.sloped[lo:hi] {
			d := r.Vertices[v].Sub(g.m.Vertices[v])
			if s := g.stretch(v, d, r); s > 1 {
				r.Vertices[v] = g.m.Vertices[v].Add(d.Mul(s))
			}
		}
	})
}

// stretch returns the factor by which the move d of v must grow, 1 for none.
func (g *grower) stretch(v int32, d r3.Vector, r *Result) float64 {
	s := 1.0
	for _, c := range g.in.Of(v) {
		f := c / 3
		w := &r.Allowance[f]
		if w[0] == w[1] && w[1] == w[2] || g.opt.Keep != nil && g.opt.Keep[f] {
			continue
		}
		n := g.normal(f)
		if n == (r3.Vector{}) {
			continue
		}
		p, q, t := g.m.Triangle(int(f))
		e, h := q.Sub(p), t.Sub(p)
		cr := e.Cross(h)
		slope := h.Cross(cr).Mul(w[1] - w[0]).Add(cr.Cross(e).Mul(w[2] - w[0])).Mul(1 / cr.Norm2())
		if !(slope.Norm2() < steepest*steepest) {
			continue
		}
		if gain := n.Sub(slope).Dot(d); gain > 0 {
			s = max(s, w[c%3]/gain)
		}
	}
	return min(s, 1+tiltMost)
}
