package grow

import (
	"context"
	"math"
	"math/bits"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

const (
	// turnedBelow is the cosine to its old normal below which a facet counts as
	// turned over: growing bends facets between unequal allowances by the slope
	// and at mitred edges by their angle, but not by 78 degrees.
	turnedBelow = 0.2

	// squeeze is the share of its height above a neighbouring facet's plane
	// that a vertex keeps after growing. With 0 all vertices nearer to a concave
	// edge than the allowance would fall onto one line; with 1 they would stand
	// off by their height. Tried on voxel-born brackets, gyroids and lattices: from
	// 0.3 on no more facets are saved, and stock grows.
	squeeze = 0.3

	// concaveReach is how far, in allowances, concave neighbours are looked for:
	// vertices up to a tan(phi/2) from an edge are buried, a for a right angle.
	concaveReach = 2.0

	// gatherMost bounds the vertices that a neighbourhood is gathered from, nearest
	// first: a mesh may be so fine that all within reach are thousands. Tried on a
	// lattice of which 600 were within reach, it left no more facets turned.
	gatherMost = 256

	// reachStep widens the neighbourhood of a turned facet from round to round,
	// beginning with its shortest edge; reachCap ends that, in allowances.
	reachStep = 1.5
	reachCap  = 2.0

	// leanFrom is the length of a move, in allowances, from which it may lean
	// over a facet it does not touch: the mitre of a bend of 23 degrees.
	leanFrom = 1.02

	// longerCap refuses a neighbourhood that would lengthen a move beyond this factor.
	longerCap = 2.5

	// untangleRounds bounds the rounds; one that leaves more than untangleGain of
	// the facets turned is the last, as on fine meshes, where relax does more.
	untangleRounds = 12
	untangleGain   = 15.0 / 16

	// nearChunk is how many neighbourhoods a worker takes at a time.
	nearChunk = 64
)

// untangle looks for facets that growing turned over and moves their corners
// as their neighbourhood asks.
//
// Two vertices that lie closer together than their moves differ pass each
// other: on the slivers and aliased edges of voxel-born meshes, and beside
// concave edges. Near a sliver both should answer to the facets of both, which
// moves them alike. Beside a concave edge a vertex at height t above a
// neighbouring facet's plane is buried by that facet's stock unless n.d >= a -
// t; that also keeps it where the grown surfaces meet. Both only add planes to
// a vertex's own, so no stock goes missing.
func (g *grower) untangle(ctx context.Context, r *Result) error {
	reach := make([]float64, len(g.m.Vertices))
	pool := make(chan *near, g.opt.Workers)
	for range g.opt.Workers {
		pool <- nil
	}
	if err := g.regroup(ctx, r, pool, g.leaning, reach); err != nil {
		return err
	}
	bad, err := g.turned(ctx, r)
	if err != nil {
		return err
	}
	for round := range untangleRounds {
		before := len(bad)
		if before == 0 {
			return nil
		}
		list := g.widen(bad, reach, math.Pow(reachStep, float64(round)), r.Allowance)
		if err := g.regroup(ctx, r, pool, list, reach); err != nil {
			return err
		}
		if bad, err = g.turnedAt(ctx, r, list); err != nil {
			return err
		}
		if float64(len(bad)) > untangleGain*float64(before) {
			break
		}
	}
	return g.relax(ctx, r, pool, bad)
}

// regroup solves the vertices of list anew with their neighbourhood.
func (g *grower) regroup(ctx context.Context, r *Result, pool chan *near, list []int32, reach []float64) error {
	return g.parallel(ctx, len(list), nearChunk, func(lo, hi int) {
		w := <-pool
		if w == nil {
			w = newNear(g, r.Allowance)
		}
		for _, v := range list[lo:hi] {
			if d, ok := w.together(v, reach[v]); ok {
				r.Vertices[v] = g.m.Vertices[v].Add(d)
			}
		}
		pool <- w
	})
}

// which is mesh.Which, with the error of a context that has ended.
func (g *grower) which(ctx context.Context, n int, test func(i int32) bool) ([]int32, error) {
	return mesh.Which(n, g.opt.Workers, func(i int) bool { return test(int32(i)) }), ctx.Err()
}

// turned returns the facets that growing turned over, ascending.
func (g *grower) turned(ctx context.Context, r *Result) ([]int32, error) {
	return g.which(ctx, len(g.m.Facets), func(f int32) bool { return g.over(r, f) })
}

// turnedAt returns those of them that have a corner in list, ascending.
func (g *grower) turnedAt(ctx context.Context, r *Result, list []int32) ([]int32, error) {
	seen := newMarks(len(g.m.Facets))
	for _, v := range list {
		for _, c := range g.in.Of(v) {
			seen.add(c / 3)
		}
	}
	facets := seen.ascending()
	turned, err := g.which(ctx, len(facets), func(i int32) bool { return g.over(r, facets[i]) })
	for i, at := range turned {
		turned[i] = facets[at]
	}
	return turned, err
}

// over tells whether growing turned facet f over.
func (g *grower) over(r *Result, f int32) bool {
	t := g.m.Facets[f]
	return over(g.normal(f), r.Vertices[t[0]], r.Vertices[t[1]], r.Vertices[t[2]])
}

// widen sets the reach at the corners of bad facets to factor times their
// shortest edge, and returns the corners ascending.
func (g *grower) widen(bad []int32, reach []float64, factor float64, field mesh.CornerField) []int32 {
	corners := newMarks(len(g.m.Vertices))
	for _, f := range bad {
		a, b, c := g.m.Triangle(int(f))
		short := math.Sqrt(min(a.Sub(b).Norm2(), b.Sub(c).Norm2(), c.Sub(a).Norm2()))
		for k, v := range g.m.Facets[f] {
			// A hair more than the edge, so that its other end is in reach.
			reach[v] = min(max(reach[v], 1.05*short*factor), reachCap*field[f][k])
			corners.add(v)
		}
	}
	return corners.ascending()
}

// near is a worker's scratch for neighbourhoods.
type near struct {
	g      *grower
	field  mesh.CornerField
	vertex marks // those that were come by
	facet  marks // those whose plane is in
	queue  []int32
	planes []plane
}

func newNear(g *grower, field mesh.CornerField) *near {
	return &near{g: g, field: field, vertex: newMarks(len(g.m.Vertices)), facet: newMarks(len(g.m.Facets))}
}

// marks is a set of numbers, a bit each so that it stays in the processor's cache.
type marks struct {
	bits []uint64
	set  []int32
}

func newMarks(n int) marks { return marks{bits: make([]uint64, (n+63)/64)} }

func (m *marks) has(i int32) bool { return m.bits[i>>6]>>(i&63)&1 != 0 }

// add adds i and tells whether it is new.
func (m *marks) add(i int32) bool {
	if m.has(i) {
		return false
	}
	m.bits[i>>6] |= 1 << (i & 63)
	m.set = append(m.set, i)
	return true
}

// ascending returns the numbers in order.
func (m *marks) ascending() []int32 {
	list := make([]int32, 0, len(m.set))
	for w, b := range m.bits {
		for ; b != 0; b &= b - 1 {
			list = append(list, int32(64*w+bits.TrailingZeros64(b)))
		}
	}
	return list
}

func (m *marks) clear() {
	for _, i := range m.set {
		m.bits[i>>6] = 0
	}
	m.set = m.set[:0]
}

// together returns the move of vertex v under its own facets, those around
// vertices within reach, and concave ones up to concaveReach; false when they
// agree on no sensible move.
func (w *near) together(v int32, reach float64) (r3.Vector, bool) {
	most, ok := w.own(v)
	if !ok || len(w.planes) == 0 {
		return r3.Vector{}, false
	}
	limit := w.g.opt.MitreLimit * most
	own, out := least(w.planes, limit)
	if out != solved {
		return r3.Vector{}, false
	}
	w.gather(v, reach, max(reach, concaveReach*most))
	d, out := least(w.planes, limit)
	return d, out == solved && d.Norm() <= longerCap*own.Norm()
}

// own collects the planes around v and returns the largest allowance; false
// when a kept facet holds v.
func (w *near) own(v int32) (most float64, ok bool) {
	w.vertex.clear()
	w.facet.clear()
	w.planes = w.planes[:0]
	for _, c := range w.g.in.Of(v) {
		f, a := c/3, w.field[c/3][c%3]
		if w.g.opt.Keep != nil && w.g.opt.Keep[f] {
			return 0, false
		}
		most = max(most, a)
		w.facet.add(f)
		if n := w.g.normal(f); n != (r3.Vector{}) {
			w.planes = append(w.planes, plane{n, a})
		}
	}
	return most, true
}

// gather walks over the surface from v and adds the planes of facets that
// touch a vertex within reach, and of those up to far that v stands in front of.
func (w *near) gather(v int32, reach, far float64) {
	g, p := w.g, w.g.m.Vertices[v]
	w.queue = append(w.queue[:0], v)
	w.vertex.add(v)
	for i := 0; i < min(len(w.queue), gatherMost); i++ {
		u := w.queue[i]
		at := g.m.Vertices[u]
		close := at.Sub(p).Norm2() <= reach*reach
		for _, c := range g.in.Of(u) {
			f := c / 3
			if i > 0 && w.facet.has(f) {
				continue // so its corners were come by
			}
			for _, x := range g.m.Facets[f] {
				if !w.vertex.add(x) {
					continue
				}
				if g.m.Vertices[x].Sub(p).Norm2() <= far*far {
					w.queue = append(w.queue, x)
				}
			}
			if i == 0 {
				continue // own has them
			}
			n, a := g.normal(f), w.field[f][c%3]
			if n == (r3.Vector{}) {
				continue
			}
			if t := n.Dot(p.Sub(at)); t > 0 {
				a -= (1 - squeeze) * t
			} else if !close {
				continue // again from a vertex in reach, if it has one
			}
			w.facet.add(f)
			if a > 0 {
				w.planes = append(w.planes, plane{n, a})
			}
		}
	}
}
