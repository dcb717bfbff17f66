package clean

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// How far a change moves the surface is bounded in a view along the mean normal
// of the facets that change. Seen so, the old and the new facets cover the same
// polygon, and the difference of their heights is linear between the points
// where an old edge crosses a new one and the vertices that go; so its largest
// value is at one of those. The distance is no larger than the difference of heights.
// A sliver may look the other way; it lies within its own height of its edges.

// minFacing is the least cosine between a new facet's normal and the mean
// normal. Below it the view is too slanted for the bound to be of use.
const minFacing = 0.2

// view is a frame with its third axis along a mean normal.
type view struct{ x, y, n r3.Vector }

func newView(normal r3.Vector) (view, bool) {
	l := normal.Norm()
	if !(l > 0) {
		return view{}, false
	}
	n := normal.Mul(1 / l)
	x := n.Ortho()
	return view{x, n.Cross(x), n}, true
}

// see returns d in the frame.
func (w view) see(d r3.Vector) r3.Vector {
	return r3.Vector{X: d.Dot(w.x), Y: d.Dot(w.y), Z: d.Dot(w.n)}
}

// collapseMove returns a bound, mm, of how far the surface is moved when the
// origin of half-edge h is moved into its target, and whether
// the collapse, which must be possible, keeps a sound surface. It gives up early above limit.
func (s *surface) collapseMove(h int32, limit float64) (step float64, ok bool) {
	v, u := s.origin(h), s.target(h)
	before := s.movedAround(v)
	var normal r3.Vector
	lowest := math.Inf(1)
	for c := h; ; {
		normal = normal.Add(s.AreaNormal(int(c / 3)))
		lowest = min(lowest, s.height(c/3))
		if c = s.around(c); c == h {
			break
		}
	}
	w, ok := newView(normal)
	if !ok {
		return 0, false
	}
	pv, pu := s.Vertices[v], s.Vertices[u]
	// The ring in order, with the target first, relative to v and in the view.
	ring := make([]r3.Vector, 0, 16)
	for c := h; ; {
		ring = append(ring, w.see(s.Vertices[s.target(c)].Sub(pv)))
		if c = s.around(c); c == h {
			break
		}
	}
	nearest := math.Inf(1)
	for c := s.around(h); c != h; c = s.around(c) {
		if c/3 == s.twin[h]/3 {
			continue // goes
		}
		q, r := s.Vertices[s.target(c)], s.Vertices[s.origin(mesh.Prev(c))]
		n := areaNormal(pu, q, r)
		if n.Dot(w.n) < minFacing*n.Norm() || heightOf(pu, q, r) < lowest {
			return 0, false
		}
		// A facet that looked the right way and was no sliver must not turn far.
		if old := s.AreaNormal(int(c / 3)); s.height(c/3) > limit && old.Dot(w.n) < minFacing*old.Norm() {
			return 0, false
		}
		nearest = min(nearest, distanceToTriangle(pv, pu, q, r))
	}
	d := nearest
	for j := 1; j+1 < len(ring); j++ {
		if z, in := heightAtOrigin(ring[0], ring[j], ring[j+1]); in {
			d = max(d, math.Abs(z))
		}
	}
	for i := 1; i < len(ring) && before+d <= limit; i++ {
		for j := 2; j < len(ring)-1; j++ {
			if i != j {
				d = max(d, crossing(r3.Vector{}, ring[i], ring[0], ring[j]))
			}
		}
	}
	return d, before+d <= limit
}

// flipMove returns a bound, mm, of how far the surface is moved by turning the
// edge of half-edge h, and whether that keeps a sound surface and makes its
// lower facet half as high again at least.
func (s *surface) flipMove(h int32, limit float64) (step float64, ok bool) {
	g := s.twin[h]
	p, q := s.origin(h), s.target(h)
	r, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(g))
	if r == x || s.linked(r, x) || s.valence(p) <= 3 || s.valence(q) <= 3 {
		return 0, false
	}
	w, ok := newView(s.AreaNormal(int(h / 3)).Add(s.AreaNormal(int(g / 3))))
	if !ok {
		return 0, false
	}
	lowest := min(s.height(h/3), s.height(g/3))
	for _, t := range [2][3]int32{{x, r, p}, {r, x, q}} {
		a, b, c := s.Vertices[t[0]], s.Vertices[t[1]], s.Vertices[t[2]]
		n := areaNormal(a, b, c)
		if n.Dot(w.n) < minFacing*n.Norm() || !(heightOf(a, b, c) > 1.5*lowest) {
			return 0, false
		}
	}
	// A neighbour that is no sliver keeps its normal: the flip must not bend the surface.
	o := s.Vertices[p]
	d := crossing(r3.Vector{}, w.see(s.Vertices[q].Sub(o)), w.see(s.Vertices[r].Sub(o)), w.see(s.Vertices[x].Sub(o)))
	before := max(s.moved[h/3], s.moved[g/3])
	return d, before+d <= limit
}

// heightAtOrigin returns the height of the triangle a, b, c over the origin,
// and whether it lies over it, seen along z.
func heightAtOrigin(a, b, c r3.Vector) (z float64, in bool) {
	u, v, w := b.X*c.Y-b.Y*c.X, c.X*a.Y-c.Y*a.X, a.X*b.Y-a.Y*b.X
	if sum := u + v + w; sum != 0 && u*sum >= 0 && v*sum >= 0 && w*sum >= 0 {
		return (u*a.Z + v*b.Z + w*c.Z) / sum, true
	}
	return 0, false
}

// crossing returns the difference in height at the place where the segments a-b
// and c-d cross, seen along z, and 0 when they do not cross.
func crossing(a, b, c, d r3.Vector) float64 {
	e, f, g := b.Sub(a), d.Sub(c), c.Sub(a)
	den := e.X*f.Y - e.Y*f.X
	if den == 0 {
		return 0
	}
	s, t := (g.X*f.Y-g.Y*f.X)/den, (g.X*e.Y-g.Y*e.X)/den
	if !(s >= 0 && s <= 1 && t >= 0 && t <= 1) {
		return 0
	}
	return math.Abs(a.Z + s*e.Z - (c.Z + t*f.Z))
}

// distanceToTriangle returns the distance from p to the triangle a, b, c, after
// Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
func distanceToTriangle(p, a, b, c r3.Vector) float64 {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return ap.Norm()
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return bp.Norm()
	}
	if vc := d1*d4 - d3*d2; vc <= 0 && d1 >= 0 && d3 <= 0 {
		return ap.Sub(ab.Mul(d1 / (d1 - d3))).Norm()
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return cp.Norm()
	}
	if vb := d5*d2 - d1*d6; vb <= 0 && d2 >= 0 && d6 <= 0 {
		return ap.Sub(ac.Mul(d2 / (d2 - d6))).Norm()
	}
	if va := d3*d6 - d5*d4; va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return bp.Sub(c.Sub(b).Mul((d4 - d3) / (d4 - d3 + d5 - d6))).Norm()
	}
	n := ab.Cross(ac)
	return math.Abs(n.Dot(ap)) / n.Norm()
}
