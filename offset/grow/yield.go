package grow

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

const (
	// yieldRounds bounds the rounds of yield; what is still held then gets no stock.
	yieldRounds = 4
	// clearRounds bounds the rounds of clear; what still crosses is the caller's to resolve.
	clearRounds = 4
)

// yielder lowers the allowance around vertices of kept facets where their other
// facets ask for what cannot be, as on the narrow chamfer that a mesher left
// along the rim of a kept face: there the stock falls to what the vertex can
// give, and rises from it under the slope.
type yielder struct {
	g       *grower
	field   mesh.CornerField
	list    []int32 // vertices of kept facets
	held    []bool  // the same by vertex
	yielded []bool
	n       int
}

// newYielder returns nil when nothing is kept.
func (g *grower) newYielder(field mesh.CornerField) *yielder {
	if g.opt.Keep == nil {
		return nil
	}
	y := &yielder{g: g, field: field, held: make([]bool, len(g.m.Vertices)), yielded: make([]bool, len(g.m.Vertices))}
	for f, kept := range g.opt.Keep {
		if !kept {
			continue
		}
		for _, v := range g.m.Facets[f] {
			if !y.held[v] {
				y.held[v] = true
				y.list = append(y.list, v)
			}
		}
	}
	return y
}

// limits starts a round of lowering.
func (y *yielder) limits() *spreader {
	return &spreader{g: y.g, field: y.field, sign: -1, reached: make([]bool, 3*len(y.field))}
}

// lower lets no facet around v ask for more than limit.
func (y *yielder) lower(s *spreader, v int32, limit float64) {
	if !y.yielded[v] {
		y.yielded[v] = true
		y.n++
	}
	for _, c := range y.g.in.Of(v) {
		s.raise(c, -limit)
	}
}

// yield lowers what kept facets keep a vertex from giving.
func (y *yielder) yield(ctx context.Context) error {
	if y == nil {
		return nil
	}
	var w work
	for round := range yieldRounds {
		s := y.limits()
		for _, v := range y.list {
			d, state := y.g.vertex(&w, v, y.field)
			if state != short {
				continue
			}
			limit := y.given(v, d)
			if round == yieldRounds-1 {
				limit = 0
			}
			y.lower(s, v, limit)
		}
		if len(s.heap) == 0 {
			return nil
		}
		if err := s.run(ctx); err != nil {
			return err
		}
	}
	return nil
}

// given returns the least that move d of vertex v gives any of its facets that
// ask for more, and are not kept.
func (y *yielder) given(v int32, d r3.Vector) float64 {
	g, least := y.g, math.Inf(1)
	for _, c := range g.in.Of(v) {
		f := c / 3
		n := g.normal(f)
		if n == (r3.Vector{}) || g.opt.Keep[f] {
			continue
		}
		if got := n.Dot(d); got < y.field[f][c%3] {
			least = min(least, got)
		}
	}
	return max(least, 0)
}

// clear takes the stock off at vertices of kept facets around which facets
// turned over or cross: two faces that slide towards each other over a chamfer
// narrower than their moves. The rest is moved again.
func (y *yielder) clear(ctx context.Context, r *Result) error {
	if y == nil {
		return nil
	}
	for range clearRounds {
		bad, err := y.bad(ctx, r)
		if err != nil {
			return err
		}
		s := y.limits()
		for _, f := range bad {
			for _, v := range y.g.m.Facets[f] {
				if y.held[v] {
					y.lower(s, v, 0)
				}
			}
		}
		if len(s.heap) == 0 {
			break
		}
		if err := s.run(ctx); err != nil {
			return err
		}
		r.Needles = nil
		if err := y.g.moveAll(ctx, r); err != nil {
			return err
		}
		if err := y.g.untangle(ctx, r); err != nil {
			return err
		}
	}
	r.Yielded = y.n
	return nil
}

// bad returns facets that turned over, and those with a held vertex that cross others.
func (y *yielder) bad(ctx context.Context, r *Result) ([]int32, error) {
	bad, err := y.g.turned(ctx, r)
	if err != nil {
		return nil, err
	}
	grown := y.g.m.WithVertices(mesh.Rounded(r.Vertices))
	near := make([]bool, len(grown.Facets))
	for f, t := range grown.Facets {
		near[f] = y.held[t[0]] || y.held[t[1]] || y.held[t[2]]
	}
	c, err := bvh.New(grown, y.g.opt.Workers).SelfCrossingsNear(ctx, near, bvh.CrossingOptions{Workers: y.g.opt.Workers})
	if err != nil {
		return nil, err
	}
	for _, p := range c.Pairs {
		bad = append(bad, int32(p[0]), int32(p[1]))
	}
	return bad, nil
}
