package remesh

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// level is the function whose zero is the grown surface, negative in the metal.
type level struct {
	m        *mesh.Mesh
	topo     *mesh.Topology
	in       *mesh.Incidence
	tree     *bvh.Tree
	signs    *bvh.Signs
	field    mesh.CornerField
	normal   []r3.Vector // unit, zero for facets without area
	top      []float64   // largest allowance of each facet
	most     float64     // of all
	mitre    float64
	overlaps bool
}

func newLevel(m *mesh.Mesh, tree *bvh.Tree, allowance mesh.CornerField, opt Options) *level {
	in := m.Incidence()
	l := &level{
		m: m, topo: m.Topology(), in: in, tree: tree, signs: tree.Signs(in), field: allowance, mitre: opt.MitreLimit, overlaps: opt.Overlaps,
		normal: make([]r3.Vector, len(m.Facets)), top: make([]float64, len(m.Facets)),
	}
	for f := range m.Facets {
		l.normal[f] = m.FacetNormal(f)
		l.top[f] = max(allowance[f][0], allowance[f][1], allowance[f][2])
		l.most = max(l.most, l.top[f])
	}
	return l
}

// probe is the level at a place: its value, where it rises, and the facet of
// the part that decides.
type probe struct {
	value  float64
	normal r3.Vector
	facet  int
}

// at returns the level at p; hint is a facet believed to be near.
func (l *level) at(p r3.Vector, hint int) probe {
	h := l.tree.Closest(p, hint)
	if l.inside(p, h) {
		return probe{-h.Dist - l.allowance(h), l.rise(h.Point.Sub(p), h), h.Facet}
	}
	best := l.outside(p, h)
	// What lies farther decides only if it has so much more allowance.
	if reach := best.value + l.most; reach > h.Dist*(1+1e-12) {
		l.tree.VisitBall(p, reach, func(f int) bool {
			k := l.tree.On(f, p)
			if f != h.Facet && k.Dist-l.top[f] < best.value && l.nearest(p, k) {
				if q := l.outside(p, k); q.value < best.value || q.value == best.value && q.facet < best.facet {
					best = q
				}
			}
			return true
		})
	}
	return best
}

func (l *level) inside(p r3.Vector, h bvh.Hit) bool {
	if l.overlaps {
		return l.tree.Inside(p)
	}
	// Where all facets at the nearest place look the same way it is clear; thin
	// facets look anywhere, and at saddles they disagree.
	d := p.Sub(h.Point)
	in, out := false, false
	l.around(h, func(f int32) {
		if along := d.Dot(l.normal[f]); along > 0 {
			out = true
		} else {
			in = true
		}
	})
	if in == out {
		return l.tree.Inside(p)
	}
	return in
}

func (l *level) allowance(h bvh.Hit) float64 {
	return l.field.At(h.Facet, h.Bary[0], h.Bary[1], h.Bary[2])
}

// rise returns the direction d at length 1, the facet's normal where d is none.
func (l *level) rise(d r3.Vector, h bvh.Hit) r3.Vector {
	if n := d.Norm(); n > 1e-9 {
		return d.Mul(1 / n)
	}
	return l.signs.Normal(h).Normalize()
}

// nearest tells whether no place of the surface beside the hit is nearer to p.
func (l *level) nearest(p r3.Vector, h bvh.Hit) bool {
	ok := true
	l.around(h, func(f int32) {
		ok = ok && l.tree.On(int(f), p).Dist >= h.Dist*(1-1e-12)
	})
	return ok
}

// around calls do with the facets that meet at the hit, its own first.
func (l *level) around(h bvh.Hit, do func(f int32)) {
	do(int32(h.Facet))
	switch h.Feature {
	case bvh.Edge:
		if t := l.topo.Twin[3*h.Facet+h.K]; t != mesh.None {
			do(t / 3)
		}
	case bvh.Corner:
		for _, c := range l.in.Of(l.m.Facets[h.Facet][h.K]) {
			if c/3 != int32(h.Facet) {
				do(c / 3)
			}
		}
	}
}

// plane is one of the planes that meet where a mitre is.
type plane struct {
	n     r3.Vector
	a     float64
	facet int32
}

// outside returns the level of a place outside the metal by one of its nearest places.
func (l *level) outside(p r3.Vector, h bvh.Hit) probe {
	a := l.allowance(h)
	d := p.Sub(h.Point)
	round := probe{h.Dist - a, l.rise(d, h), h.Facet}
	if h.Feature == bvh.Face {
		return round
	}
	var room [16]plane
	ps := room[:0]
	big := a
	l.around(h, func(f int32) {
		n := l.normal[f]
		if n == (r3.Vector{}) {
			return
		}
		b := l.allowance(l.tree.On(int(f), h.Point))
		big = max(big, b)
		ps = append(ps, plane{n, b, f})
	})
	if len(ps) == 0 {
		return round
	}
	best := probe{value: math.Inf(-1)}
	for i := range ps {
		// The full stock of the others' normals must fit under each plane.
		b := ps[i].a
		for j := range ps {
			b = max(b, ps[j].a*ps[j].n.Dot(ps[i].n))
		}
		if v := ps[i].n.Dot(d) - b; v > best.value {
			best = probe{v, ps[i].n, int(ps[i].facet)}
		}
	}
	if v := h.Dist - l.mitre*big; v > best.value {
		return probe{v, round.normal, h.Facet}
	}
	return best
}
