package grow

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

const (
	// relaxRounds bounds the rounds of relax; relaxStall ends them without gain.
	relaxRounds = 40
	relaxStall  = 6

	// relaxRings is how many rings of vertices around a turned facet join in.
	relaxRings = 2
)

// relax lets the moves around facets that are turned over, bad, run together:
// each round a vertex takes the mean of its neighbours' moves, the nearer the
// heavier, as closely as its own facets allow. So no stock goes missing, and on
// flat skin, where the mean only slides, none is added.
func (g *grower) relax(ctx context.Context, r *Result, pool chan *near, bad []int32) error {
	var next []r3.Vector
	least, stalled := math.MaxInt, 0
	for range relaxRounds {
		if len(bad) < least {
			least, stalled = len(bad), 0
		} else if stalled++; stalled == relaxStall {
			return nil
		}
		if len(bad) == 0 {
			return nil
		}
		list := g.around(bad, relaxRings)
		next = slices.Grow(next[:0], len(list))[:len(list)]
		err := g.parallel(ctx, len(list), nearChunk, func(lo, hi int) {
			w := <-pool
			if w == nil {
				w = newNear(g, r.Allowance)
			}
			for i := lo; i < hi; i++ {
				next[i] = w.average(r, list[i])
			}
			pool <- w
		})
		if err != nil {
			return err
		}
		for i, v := range list {
			r.Vertices[v] = next[i]
		}
		if bad, err = g.turnedAt(ctx, r, list); err != nil {
			return err
		}
	}
	return nil
}

// around returns the corners of facets and the given number of rings around them, ascending.
func (g *grower) around(facets []int32, rings int) []int32 {
	near := newMarks(len(g.m.Vertices))
	join := func(f int32) {
		for _, v := range g.m.Facets[f] {
			near.add(v)
		}
	}
	for _, f := range facets {
		join(f)
	}
	from := 0 // the last ring
	for range rings {
		ring := near.set[from:]
		from = len(near.set)
		for _, v := range ring {
			for _, c := range g.in.Of(v) {
				join(c / 3)
			}
		}
	}
	return near.ascending()
}

// average returns the place of v when it moves as its neighbours do on the
// mean, as nearly as its own facets allow.
func (w *near) average(r *Result, v int32) r3.Vector {
	g, at := w.g, r.Vertices[v]
	most, ok := w.own(v)
	mean, weight := w.mean(r, v)
	if !ok || weight == 0 {
		return at
	}
	for i := range w.planes { // as seen from the mean
		w.planes[i].a -= w.planes[i].n.Dot(mean)
	}
	limit := g.opt.MitreLimit * most
	x, out := search(w.planes, 2*limit, feasible*most)
	if d := mean.Add(x); out == solved && d.Norm() <= limit {
		return g.m.Vertices[v].Add(d)
	}
	return at
}

// mean returns the mean move of the neighbours of v, weighted by one over the
// length of the edge, and the sum of the weights.
func (w *near) mean(r *Result, v int32) (mean r3.Vector, weight float64) {
	m := w.g.m
	for _, c := range w.g.in.Of(v) {
		for _, x := range m.Facets[c/3] {
			if l := m.Vertices[x].Distance(m.Vertices[v]); l > 0 {
				mean = mean.Add(r.Vertices[x].Sub(m.Vertices[x]).Mul(1 / l))
				weight += 1 / l
			}
		}
	}
	if weight > 0 {
		mean = mean.Mul(1 / weight)
	}
	return mean, weight
}
