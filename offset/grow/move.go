package grow

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// keptSlip is how far, in mm, a vertex may leave a kept facet's plane: half
// the tolerance of 1 um within which a kept face stays.
const keptSlip = 0.5e-3

// moveAll finds the move of every vertex from the facets around it.
func (g *grower) moveAll(ctx context.Context, r *Result) error {
	nv := len(g.m.Vertices)
	parts := make([]moves, (nv+chunk-1)/chunk)
	err := g.parallel(ctx, nv, chunk, func(lo, hi int) {
		var w work
		var p moves
		for v := int32(lo); v < int32(hi); v++ {
			d, state := g.vertex(&w, v, r.Allowance)
			r.Vertices[v] = g.m.Vertices[v]
			if d != (r3.Vector{}) { // adding zero would turn -0 into 0
				r.Vertices[v] = g.m.Vertices[v].Add(d)
			}
			switch state {
			case blind:
				p.lost = append(p.lost, v)
			case short:
				p.needles = append(p.needles, w.needle)
			}
			if r.Vertices[v].Sub(g.m.Vertices[v]).Norm2() > leanFrom*leanFrom*w.most*w.most {
				p.leaning = append(p.leaning, v)
			}
			if w.sloped {
				p.sloped = append(p.sloped, v)
			}
		}
		parts[lo/chunk] = p
	})
	if err != nil {
		return err
	}
	var all moves
	for _, p := range parts {
		all.lost, all.leaning, all.sloped = append(all.lost, p.lost...), append(all.leaning, p.leaning...), append(all.sloped, p.sloped...)
		r.Needles = append(r.Needles, p.needles...)
	}
	g.leaning, g.sloped = all.leaning, all.sloped
	g.follow(r, all.lost)
	return nil
}

// moves are the vertices that need more than their own move, ascending.
type moves struct {
	needles []Needle
	lost    []int32 // without a facet that has a normal

	// leaning ones moved further than any facet around them asks: on edges and
	// corners, where a move may lean over a facet nearby.
	leaning []int32
	sloped  []int32 // with a facet over which the allowance varies
}

// state says what became of a vertex.
type state uint8

const (
	moved state = iota
	short       // stock is missing: see work.needle
	blind       // no facet around it has a normal
)

// work is a worker's scratch, so that no vertex allocates.
type work struct {
	planes []plane
	kept   []r3.Vector
	needle Needle
	most   float64 // allowance around the vertex
	sloped bool    // whether it varies over one of the facets there
}

// vertex returns the move of vertex v.
func (g *grower) vertex(w *work, v int32, field mesh.CornerField) (r3.Vector, state) {
	w.planes, w.kept, w.most, w.sloped = w.planes[:0], w.kept[:0], 0, false
	most := 0.0
	for _, c := range g.in.Of(v) {
		f := c / 3
		asked := &field[f]
		a := asked[c%3]
		w.most = max(w.most, a)
		w.sloped = w.sloped || asked[0] != asked[1] || asked[1] != asked[2]
		n := g.normal(f)
		switch {
		case n == (r3.Vector{}) && !(g.opt.Held != nil && g.opt.Keep != nil && g.opt.Keep[f]):
		case g.opt.Keep != nil && g.opt.Keep[f]:
			w.kept = g.held(f, w.kept)
		default:
			w.planes = append(w.planes, plane{n, a})
			most = max(most, a)
		}
	}
	switch {
	case most == 0 && (len(w.planes)+len(w.kept) > 0 || w.most == 0):
		return r3.Vector{}, moved
	case len(w.planes) == 0:
		return r3.Vector{}, blind
	}
	limit := g.opt.MitreLimit * most
	if len(w.kept) > 0 {
		return g.sliding(w, v, limit)
	}
	d, out := least(w.planes, limit)
	if out == solved {
		return d, moved
	}
	d = capped(w.planes, d, limit)
	return d, g.judge(w, v, w.planes, d, false)
}

// held appends the directions across which kept facet f holds its vertices.
func (g *grower) held(f int32, kept []r3.Vector) []r3.Vector {
	if g.opt.Held != nil {
		if out := g.opt.Held(int(f), kept); len(out) > len(kept) {
			return out
		}
		return append(kept, g.normal(f))
	}
	return g.keptBeside(f, append(kept, g.normal(f)))
}

// keptBeside appends the normals of the kept facets next to kept facet f. At
// its border a kept bore may meet a vertex with one facet only, in whose plane
// it would slide off the round.
func (g *grower) keptBeside(f int32, kept []r3.Vector) []r3.Vector {
	for h := 3 * f; h < 3*f+3; h++ {
		if t := g.topo.Twin[h]; t != mesh.None && g.opt.Keep[t/3] && g.normal(t/3) != (r3.Vector{}) &&
			g.normal(f).Dot(g.normal(t/3)) >= g.sharp {
			kept = append(kept, g.normal(t/3))
		}
	}
	return kept
}

// judge files a needle when the move d leaves stock missing.
func (g *grower) judge(w *work, v int32, ps []plane, d r3.Vector, kept bool) state {
	worst, missing := lack(ps, d)
	if missing <= settled*largest(ps) {
		return moved
	}
	w.needle = Needle{Vertex: v, At: g.m.Vertices[v], MissingMM: missing, AskedMM: worst.a, Kept: kept}
	return short
}

// sliding returns the move of a vertex that must stay in the planes of kept
// facets: the same search among the directions that are left.
func (g *grower) sliding(w *work, v int32, limit float64) (r3.Vector, state) {
	free := freeDirections(w.kept, keptSlip/limit)
	all := len(w.planes)
	for _, p := range w.planes[:all] { // as seen in the directions that are left
		n := free.project(p.n)
		if s := n.Norm(); s > leastSine {
			w.planes = append(w.planes, plane{n.Mul(1 / s), p.a / s})
		}
	}
	ps, seen := w.planes[:all], w.planes[all:]
	d, out := least(seen, limit)
	if out != solved {
		d = capped(seen, d, limit)
	}
	return d, g.judge(w, v, ps, d, true)
}

// directions are the moves that leave kept planes in place: everything, the
// vectors across normal k[0], those along k[0] x k[1], or none.
type directions struct {
	k    [2]r3.Vector // orthonormal
	rank int
}

// freeDirections returns the moves that stay in the planes of the normals.
// Normals whose sine out of the others' span is below tol add nothing.
func freeDirections(normals []r3.Vector, tol float64) directions {
	var d directions
	for d.rank < 3 {
		var far r3.Vector // the normal that sticks out most, first come first
		for _, n := range normals {
			if p := d.project(n); p.Norm2() > far.Norm2() {
				far = p
			}
		}
		if !(far.Norm() > tol) {
			return d
		}
		if d.rank < 2 {
			d.k[d.rank] = far.Normalize()
		}
		d.rank++
	}
	return d
}

// project returns the part of n along the free directions.
func (d *directions) project(n r3.Vector) r3.Vector {
	switch d.rank {
	case 0:
		return n
	case 1:
		return n.Sub(d.k[0].Mul(n.Dot(d.k[0])))
	case 2:
		u := d.k[0].Cross(d.k[1])
		return u.Mul(n.Dot(u))
	default:
		return r3.Vector{}
	}
}

// follow moves vertices around which no facet has a normal as the nearest
// neighbour that moved did, in rounds outwards.
func (g *grower) follow(r *Result, lost []int32) {
	waiting := map[int32]bool{}
	for _, v := range lost {
		waiting[v] = true
	}
	for len(lost) > 0 {
		var rest, done []int32
		for _, v := range lost {
			if u := g.nearest(v, waiting); u != mesh.None {
				r.Vertices[v] = g.m.Vertices[v].Add(r.Vertices[u].Sub(g.m.Vertices[u]))
				done = append(done, v)
			} else {
				rest = append(rest, v)
			}
		}
		if len(done) == 0 {
			return // a shell of no area: nothing to follow
		}
		for _, v := range done {
			delete(waiting, v)
		}
		lost = rest
	}
}

// nearest returns the neighbour of v along the shortest edge that is not waiting.
func (g *grower) nearest(v int32, waiting map[int32]bool) int32 {
	best, at := mesh.None, 0.0
	for _, c := range g.in.Of(v) {
		for _, u := range g.m.Facets[c/3] {
			if u == v || waiting[u] {
				continue
			}
			if d := g.m.Vertices[u].Sub(g.m.Vertices[v]).Norm2(); best == mesh.None || d < at {
				best, at = u, d
			}
		}
	}
	return best
}
