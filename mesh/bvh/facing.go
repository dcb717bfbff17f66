package bvh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

// Facing finds the nearest place among the facets that look another way than a
// given direction. It keeps the normals of all facets, and for every part of the tree
// the range of its normals, to pass over smooth surface that looks the same way.
type Facing struct {
	t      *Tree
	normal []r3.Vector     // of each facet, unit, or zero for one without area
	spread [][2]directions // of the two children of each node
}

// directions is a box around normals: least components, then greatest.
type directions [6]float32

// Facing prepares the search with up to the given number of goroutines; 0 takes GOMAXPROCS.
func (t *Tree) Facing(workers int) *Facing {
	f := &Facing{t: t, normal: make([]r3.Vector, len(t.m.Facets)), spread: make([][2]directions, len(t.nodes))}
	_ = InChunks(context.Background(), len(f.normal), workers, func(lo, hi int) error {
		for i := lo; i < hi; i++ {
			f.normal[i] = t.m.FacetNormal(i)
		}
		return nil
	})
	t.upwards(workers, func(i int32) {
		for k, c := range t.nodes[i].child {
			f.spread[i][k] = f.below(c)
		}
	})
	return f
}

// below returns the range of normals below a child.
func (f *Facing) below(child int32) directions {
	d := directions{inf32, inf32, inf32, -inf32, -inf32, -inf32}
	if child >= 0 {
		a, b := &f.spread[child][0], &f.spread[child][1]
		for k := range 3 {
			d[k], d[3+k] = min(a[k], b[k]), max(a[3+k], b[3+k])
		}
		return d
	}
	for i, end := leafRange(child); i < end; i++ {
		n := f.normal[f.t.id[i]]
		if n == (r3.Vector{}) {
			continue
		}
		for k, x := range [3]float64{n.X, n.Y, n.Z} {
			d[k], d[3+k] = min(d[k], float32(x)), max(d[3+k], float32(x))
		}
	}
	return d
}

// least returns the least that n . normal can be.
func (d *directions) least(n *[3]float32) float32 {
	var s float32
	for k := range 3 {
		s += min(float32(n[k]*d[k]), float32(n[k]*d[3+k]))
	}
	return s
}

// Normal returns the unit normal of a facet, zero for one without area.
func (f *Facing) Normal(facet int) r3.Vector { return f.normal[facet] }

// Closest returns the place nearest to p among the facets whose normal has
// less than cos along the unit vector n and that accept lets in; false when
// none lies within the distance limit. Facets without area are never found.
func (f *Facing) Closest(p r3.Vector, limit float64, n r3.Vector, cos float64, accept func(facet int) bool) (Hit, bool) {
	none := Hit{Facet: -1, Dist: math.Inf(1)}
	if s := p.X + p.Y + p.Z; s-s != 0 {
		return none, false
	}
	t := f.t
	best, facet := float64(limit*limit), -1
	q := t.local(p)
	n32 := [3]float32{float32(n.X), float32(n.Y), float32(n.Z)}
	cos32 := float32(cos) + 1e-6 // above the rounding of three products
	most := float32(best) * slackShare
	var stack [stackSize]todo
	top := 1 // the root waits at stack[0]
	for top > 0 {
		top--
		if !(stack[top].d <= most) {
			continue
		}
		at := stack[top].child
		if at >= 0 {
			nd, sp := &t.nodes[at], &f.spread[at]
			d0, d1 := boxDistance2(&q, &nd.box[0]), boxDistance2(&q, &nd.box[1])
			near := 0
			if d1 < d0 {
				near = 1
				d0, d1 = d1, d0
			}
			if d1 <= most && sp[1-near].least(&n32) < cos32 {
				stack[top] = todo{nd.child[1-near], d1}
				top++
			}
			if d0 <= most && sp[near].least(&n32) < cos32 {
				stack[top] = todo{nd.child[near], d0}
				top++
			}
			continue
		}
		for i, end := leafRange(at); i < end; i++ {
			g := int(t.id[i])
			if !f.Sees(g, n, cos) {
				continue
			}
			w := &t.tri[i]
			d := distance2(&p, &t.v[w[0]], &t.v[w[1]], &t.v[w[2]], best)
			if d > best || d == best && facet >= 0 && g > facet || !accept(g) {
				continue
			}
			best, facet = d, g
			most = float32(best) * slackShare
		}
	}
	if facet < 0 {
		return none, false
	}
	return t.On(facet, p), true
}

// Sees tells whether a facet counts for a place with normal n: it has a normal, whose
// cosine with n is below cos.
func (f *Facing) Sees(facet int, n r3.Vector, cos float64) bool {
	m := f.normal[facet]
	return n.Dot(m) < cos && m != (r3.Vector{})
}

// AnyInFront tells whether there is a facet as Closest looks for of which a part is
// in front of the plane through p across n.
func (f *Facing) AnyInFront(p r3.Vector, limit float64, n r3.Vector, cos float64, accept func(facet int) bool) bool {
	return f.anyBeyond(p, limit, n, cos, 0, accept)
}

// anyBeyond is AnyInFront with the plane so far behind p.
func (f *Facing) anyBeyond(p r3.Vector, limit float64, n r3.Vector, cos, behind float64, accept func(facet int) bool) bool {
	t := f.t
	limit2 := float64(limit * limit)
	q := t.local(p)
	n32 := [3]float32{float32(n.X), float32(n.Y), float32(n.Z)}
	cos32 := float32(cos) + 1e-6 // as in Closest
	most, behind32 := float32(limit2)*slackShare, float32(behind)*slackShare+2*t.pad
	var stack [stackSize]int32
	top := 1 // the root waits at stack[0]
	for top > 0 {
		top--
		at := stack[top]
		if at >= 0 {
			nd, sp := &t.nodes[at], &f.spread[at]
			for k := range nd.box {
				b := &nd.box[k]
				if boxDistance2(&q, b) <= most && b.front(&q, &n32) > -behind32 && sp[k].least(&n32) < cos32 {
					stack[top] = nd.child[k]
					top++
				}
			}
			continue
		}
		for i, end := leafRange(at); i < end; i++ {
			g := int(t.id[i])
			if !f.Sees(g, n, cos) {
				continue
			}
			w := &t.tri[i]
			a, b, c := &t.v[w[0]], &t.v[w[1]], &t.v[w[2]]
			if max(a.Sub(p).Dot(n), b.Sub(p).Dot(n), c.Sub(p).Dot(n)) > -behind && distance2(&p, a, b, c, limit2) <= limit2 && accept(g) {
				return true
			}
		}
	}
	return false
}

// front is how far a box reaches in front of the plane through q across n; rounding
// makes less of that than what boxes are larger by, twice.
func (b *box) front(q, n *[3]float32) float32 {
	var s float32
	for k := range 3 {
		along := float32((b[k] - q[k]) * n[k])
		half := float32(b[3+k] * n[k])
		s += along + max(half, -half)
	}
	return s
}
