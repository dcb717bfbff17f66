package verify

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// Of two surfaces the places nearest to each other are a vertex of either or lie on
// two edges: a fold of the grown surface over a ridge of the nominal one. And what
// stands over a facet comes nearest to it at a vertex of the grown surface, where an
// edge of that leaves the room over the facet, or over a corner. On fine meshes
// places spread by area miss most of these.

const (
	// sag is what a place must lack by the line or facet below it to be asked, mm: a
	// quarter of what a proof lets pass.
	sag = 0.00025
	// pieceReach is how long the pieces are in which an edge is asked, in allowances.
	pieceReach = 4
)

// valleys measures those facets of group g along their edges.
func (s *grownSamples) valleys(g int) {
	if s.most <= sag {
		return
	}
	w := &s.groups[g]
	for f := int(s.start[g]); f < int(s.start[g+1]); f++ {
		if s.again(w, f) {
			s.folds(w, f)
			s.steps(w, f)
		}
	}
	if !w.whole {
		w.arrange()
	}
}

// folds measures facet f of the grown surface along its valleys.
func (s *grownSamples) folds(w *outsideGroup, f int) {
	m := s.grown
	for k := range 3 {
		if !s.valley(f, k) {
			continue
		}
		v, u := m.Facets[f][k], m.Facets[f][(k+1)%3]
		if s.foot[v] < 0 || s.foot[u] < 0 { // of a dry facet alone
			continue
		}
		a, b := m.Vertices[v], m.Vertices[u]
		e := piece{facet: f, way: b.Sub(a), least: min(s.footLeast(v), s.footLeast(u))}
		n := math.Ceil(a.Distance(b) / (pieceReach * s.most))
		for i := range int(n) {
			e.a, e.b = a.Add(e.way.Mul(float64(i)/n)), a.Add(e.way.Mul(float64(i+1)/n))
			s.fold(w, &e)
		}
	}
}

// footLeast is the least allowance on the nominal facet nearest to a grown vertex.
func (s *grownSamples) footLeast(v int32) float64 {
	w := s.wanted[s.foot[v]]
	return min(w[0], w[1], w[2])
}

// piece is a piece of an edge of the grown surface.
type piece struct {
	facet int // of the grown surface, beside it
	a, b  r3.Vector
	way   r3.Vector // along the whole edge
	least float64   // the least allowance nearest to the ends of the edge
}

// clears tells whether a piece certainly passes the facet with corners a, b, c at more
// than the distance d, by the plane of the facet: where neither end is nearer to that on its
// outside, no place between them is.
func (e *piece) clears(a, b, c r3.Vector, d float64) bool {
	n := b.Sub(a).Cross(c.Sub(a))
	h := min(e.a.Sub(a).Dot(n), e.b.Sub(a).Dot(n))
	return h > 0 && h*h > d*d*n.Norm2()
}

// fold measures a piece where it comes nearest to an edge of the nominal surface for
// the stock called for there, and its ends over the facets around. What calls for no
// more than the places nearest to the ends do is nearest itself where it matters: of
// that only ridges count.
func (s *grownSamples) fold(w *outsideGroup, e *piece) {
	first := len(w.spots)
	s.around.VisitNear(e.a, e.b, s.most-sag, func(g int) {
		want := s.wanted[g]
		top := max(want[0], want[1], want[2]) - sag
		more := top > e.least
		if !more && s.ridges[g] == 0 {
			return
		}
		if a, b, c := s.nominal.Triangle(g); e.clears(a, b, c, top) {
			return
		}
		if more {
			s.ends(w, e, g)
		}
		for k := range 3 {
			if more || s.ridges.has(g, k) {
				s.cross(w, e, g, k, more)
			}
		}
	})
	found := w.spots[first:]
	slices.SortStableFunc(found, func(x, y spot) int { return cmp.Compare(x.facet, y.facet) })
	for i := range found {
		if x := &found[i]; x.outside {
			y := e.a.Add(e.b.Sub(e.a).Mul(x.along))
			s.place(&w.edges, e.facet, -1, y, s.around.Closest(y, int(x.facet)))
		}
	}
}

// ends takes the ends of a piece that stand too near straight over facet g.
func (s *grownSamples) ends(w *outsideGroup, e *piece, g int) {
	for _, y := range [2]r3.Vector{e.a, e.b} {
		if p, by := s.under(y, g); by > sag {
			w.spots = append(w.spots, spot{fold: int32(e.facet), facet: int32(g), at: p, by: by, beside: true})
		}
	}
}

// cross takes the place of a piece that lacks most by the edge of facet g from corner k;
// more tells that the facet calls for more than the piece's ends have nearest to them.
func (s *grownSamples) cross(w *outsideGroup, e *piece, g, k int, more bool) {
	m, want, l := s.nominal, s.wanted[g], (k+1)%3
	p, q := m.Facets[g][k], m.Facets[g][l]
	top := max(want[k], want[l]) - sag
	if top <= 0 || apart(e.a, e.b, m.Vertices[p], m.Vertices[q], top) {
		return
	}
	c := pairOf(e.a, e.b, m.Vertices[p], m.Vertices[q])
	if c.d2 >= top*top {
		return
	}
	lack, at, r := sag, 0.0, 0.0
	take := func(t float64) {
		along, d := c.at(t)
		if by := (1-along)*want[k] + along*want[l] - d; by > lack {
			lack, at, r = by, t, along
		}
	}
	if t := c.nearest(want[l] - want[k]); s.wedge(g, k, c.away(t)) {
		take(t)
	}
	if t, ok := c.over(m.AreaNormal(g)); ok {
		take(t)
	}
	if lack > sag {
		beside := s.uneven[g] != 0 || more
		w.spots = append(w.spots, spot{
			fold: int32(e.facet), facet: int32(g), at: onEdge(k, r), by: lack, beside: beside,
			along: at, outside: p < q || beside, // else the other facet beside the edge says the same
		})
	}
}

// under returns the place of facet g straight below y, and by how much y stands too
// near to it; 0 when there is none.
func (s *grownSamples) under(y r3.Vector, g int) (place, float64) {
	a, b, c := s.nominal.Triangle(g)
	n := b.Sub(a).Cross(c.Sub(a))
	size := n.Norm()
	d := y.Sub(a).Dot(n) / size
	want := s.wanted[g]
	if !(d >= 0 && d < max(want[0], want[1], want[2])-sag) {
		return place{}, 0
	}
	n = n.Mul(1 / (size * size))
	p := place{c.Sub(b).Cross(y.Sub(b)).Dot(n), a.Sub(c).Cross(y.Sub(c)).Dot(n), b.Sub(a).Cross(y.Sub(a)).Dot(n)}
	if min(p[0], p[1], p[2]) < 0 {
		return place{}, 0
	}
	return p, s.wanted.At(g, p[0], p[1], p[2]) - d
}

// wedge tells whether v, which leads away from a place of the edge of facet g from
// corner k, leads over neither facet beside it, but for those that it stands upright on.
func (s *grownSamples) wedge(g, k int, v r3.Vector) bool {
	over := func(g, k int) bool {
		u := s.nominal.Corner(g, (k+1)%3).Sub(s.nominal.Corner(g, k))
		in := s.nominal.AreaNormal(g).Cross(u)
		return v.Dot(in) > 1e-9*in.Norm()
	}
	if over(g, k) {
		return false
	}
	t := twin(s.nominal, s.near, g, k)
	return t < 0 || !over(int(t/3), int(t%3))
}
