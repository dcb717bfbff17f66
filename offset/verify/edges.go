package verify

import (
	"math"

	"github.com/golang/geo/r3"
)

// Of two surfaces the places nearest to each other are a vertex of either, which
// is asked anyhow, or lie on two edges: a fold of the grown surface that crosses a
// ridge of the nominal one. On fine meshes places spread by area miss most of these.

const (
	// sag is what an edge may come nearer between its ends than at them before it is
	// asked there, mm: a quarter of what a proof lets pass.
	sag = 0.00025
	// pieceReach is how long the pieces are in which an edge is asked, in allowances.
	pieceReach = 4
)

// edges measures the edges of facet f where they come nearest to edges of the nominal surface.
func (s *grownSamples) edges(w *outsideGroup, f int) {
	m := s.grown
	t := m.Facets[f]
	for k := range 3 {
		v, u := t[k], t[(k+1)%3]
		if v > u { // asked from the other side
			continue
		}
		if s.foot[v] < 0 || s.foot[u] < 0 { // of a dry facet alone
			continue
		}
		a, b := m.Vertices[v], m.Vertices[u]
		long := a.Distance(b)
		n := s.footNormal(v).Sub(s.footNormal(u)).Norm()
		// Over a round nominal surface the edge sags by an eighth of this, over a ridge by up to half.
		if long*n < 2*sag {
			continue
		}
		reach := max(s.footMost(v), s.footMost(u))
		if reach <= 0 {
			continue
		}
		pieces := math.Ceil(long / (pieceReach * reach))
		for i := range int(pieces) {
			s.piece(w, f, a.Add(b.Sub(a).Mul(float64(i)/pieces)), a.Add(b.Sub(a).Mul(float64(i+1)/pieces)), reach)
		}
	}
}

// ridge is a place of an edge of the nominal surface that an edge of the grown
// one, of facet fold, comes near to.
type ridge struct {
	fold  int32
	facet int32 // nominal, whose edge from corner k it lies on
	k     int8
	along float64 // share of the way along the edge
}

// onRidges measures a group's ridges from the nominal side: also where nothing of
// the group changed, since all of the grown surface around them counts.
func (s *grownSamples) onRidges(w *outsideGroup) {
	w.ridgeShort, w.ridgeLacks = Worst{Facet: -1}, w.ridgeLacks[:0]
	for _, e := range w.ridges {
		g, k := int(e.facet), int(e.k)
		l := (k + 1) % 3
		// A little inside the facet, where its own normal counts.
		var p place
		p[k], p[l], p[3-k-l] = (1-e.along)*(1-inset), e.along*(1-inset), inset
		x := p.of(s.nominal.Triangle(g))
		want := (1-e.along)*s.wanted[g][k] + e.along*s.wanted[g][l]
		short := s.facet(x, s.directed(g), want, slopeCos(s.nominal, s.wanted, g), int(e.fold)).short
		if short > Resolution {
			w.ridgeShort.take(short, int(e.fold), func() r3.Vector { return s.tree.Closest(x, int(e.fold)).Point })
			w.ridgeLacks = append(w.ridgeLacks, Lack{Facet: int(e.fold), K: -1, Out: s.nominal.FacetNormal(g), By: short, Foot: g, At: x})
		}
	}
}

// footNormal is the normal of the nominal facet nearest to a grown vertex, zero for one of no area.
func (s *grownSamples) footNormal(v int32) r3.Vector {
	return s.nominal.AreaNormal(int(s.foot[v])).Normalize()
}

// footMost is the greatest allowance of that facet.
func (s *grownSamples) footMost(v int32) float64 {
	a := s.wanted[s.foot[v]]
	return max(a[0], a[1], a[2])
}

// piece measures the piece from a to b of an edge of facet f where it comes nearest to a ridge for the stock called for there.
func (s *grownSamples) piece(w *outsideGroup, f int, a, b r3.Vector, reach float64) {
	m := s.nominal
	var best [2]ridge // on the one facet beside a ridge, and on the other
	var lack [2]float64
	var y r3.Vector
	s.around.VisitBall(a.Add(b).Mul(0.5), a.Distance(b)/2+reach, func(g int) bool {
		for k := range 3 {
			l := (k + 1) % 3
			side, p, q := 0, m.Facets[g][k], m.Facets[g][l]
			if p > q {
				side = 1
			}
			t, r, d := nearest(a, b, m.Vertices[p], m.Vertices[q])
			if by := (1-r)*s.wanted[g][k] + r*s.wanted[g][l] - d; by > max(sag, lack[side]) {
				lack[side], best[side] = by, ridge{fold: int32(f), facet: int32(g), k: int8(k), along: r}
				if side == 0 {
					y = a.Add(b.Sub(a).Mul(t))
				}
			}
		}
		return true
	})
	if lack[0] > 0 {
		s.measure(w, f, -1, y, s.around.Closest(y, int(best[0].facet)))
	}
	for side, by := range lack {
		if by > 0 {
			w.ridges = append(w.ridges, best[side])
		}
	}
}

// nearest returns where the line from a to b and that from p to q come nearest
// to each other, as shares of their ways, and the distance there.
func nearest(a, b, p, q r3.Vector) (t, r, d float64) {
	u, v, w := b.Sub(a), q.Sub(p), a.Sub(p)
	uu, uv, vv, uw, vw := u.Norm2(), u.Dot(v), v.Norm2(), u.Dot(w), v.Dot(w)
	share := func(x, of float64) float64 {
		if of <= 0 {
			return 0
		}
		return min(max(x/of, 0), 1)
	}
	if den := uu*vv - uv*uv; den > 1e-12*uu*vv {
		t = share(uv*vw-vv*uw, den)
	}
	r = share(uv*t+vw, vv)
	t = share(uv*r-uw, uu)
	return t, r, a.Add(u.Mul(t)).Distance(p.Add(v.Mul(r)))
}
