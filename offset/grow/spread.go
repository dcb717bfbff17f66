package grow

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/queue"
)

// worth is the least gain in mm for which a corner is visited again: a
// picometre, so that rounding cannot keep the spreading alive.
const worth = 1e-9

// mostLate is how often a corner may be raised above the value that is being
// spread. A front that meets an obtuse corner comes late to it, and again once or
// twice; around needles late raises would feed each other millions of times,
// each a little smaller, for nanometres in all.
const mostLate = 4

// spread returns the allowance at every corner: the envelope of the facets'
// own allowances under the slope, then limited from kept facets under the same slope.
func (g *grower) spread(ctx context.Context, own []float64) (mesh.CornerField, error) {
	field := mesh.UniformPerFacet(own)
	for f := range g.opt.Keep {
		if g.opt.Keep[f] {
			field[f] = [3]float64{}
		}
	}
	s := &spreader{g: g, field: field, sign: 1}
	if !uniform(field) {
		if err := s.seedBorders(ctx, own); err != nil {
			return nil, err
		}
		if err := s.run(ctx); err != nil {
			return nil, err
		}
	}
	if g.opt.Keep != nil {
		s.sign, s.reached = -1, make([]bool, 3*len(field))
		s.seedLimits()
		if err := s.run(ctx); err != nil {
			return nil, err
		}
	}
	return field, nil
}

// uniform tells whether all corners ask for the same.
func uniform(field mesh.CornerField) bool {
	for _, a := range field {
		if a != field[0] {
			return false
		}
	}
	return true
}

// spreader widens the field over the smooth surface, largest value first. With
// sign -1 it works on the negated field, which spreads limits downwards.
type spreader struct {
	g     *grower
	field mesh.CornerField
	sign  float64
	heap  queue.Least // corners by their negated values: largest first
	late  []uint8     // by corner: late raises

	// reached marks the corners that a limit has lowered; nil while allowances
	// spread. A corner without a limit says nothing about the limit beside it.
	reached []bool
}

// at returns the signed value at corner c.
func (s *spreader) at(c int32) float64 { return s.sign * s.field[c/3][c%3] }

// smooth tells whether half-edge h has a partner across a smooth edge. A facet
// without a normal parts nothing.
func (s *spreader) smooth(h int32) bool {
	t := s.g.topo.Twin[h]
	if t == mesh.None {
		return false
	}
	n, o := s.g.normal(h/3), s.g.normal(t/3)
	return n == (r3.Vector{}) || o == (r3.Vector{}) || n.Dot(o) >= s.g.sharp
}

// kept tells whether facet f is kept.
func (s *spreader) kept(f int32) bool { return s.g.opt.Keep != nil && s.g.opt.Keep[f] }

// rises tells whether corner c takes the value a.
func (s *spreader) rises(c int32, a float64) bool { return !s.kept(c/3) && a > s.at(c)+worth }

// raise offers corner c the value a.
func (s *spreader) raise(c int32, a float64) {
	if !s.rises(c, a) {
		return
	}
	s.field[c/3][c%3] = s.sign*a + 0 // no -0
	if s.reached != nil {
		s.reached[c] = true
	}
	s.heap.Push(-a, c)
}

// seedBorders offers every facet the larger allowance of its smooth neighbours.
func (s *spreader) seedBorders(ctx context.Context, own []float64) error {
	twin := s.g.topo.Twin
	higher, err := s.g.which(ctx, len(own), func(f int32) bool {
		for _, t := range twin[3*f : 3*f+3] {
			if t != mesh.None && own[f] > own[t/3] {
				return !s.kept(f)
			}
		}
		return false
	})
	for _, f := range higher {
		for h := 3 * f; h < 3*f+3; h++ {
			if t := twin[h]; t != mesh.None && own[f] > own[t/3] && s.smooth(h) {
				s.raise(t, own[f])
				s.raise(mesh.Next(t), own[f])
			}
		}
	}
	return err
}

// seedLimits offers zero along kept facets.
func (s *spreader) seedLimits() {
	for h := range s.g.topo.Twin {
		h := int32(h)
		if t := s.g.topo.Twin[h]; t != mesh.None && s.kept(h/3) && s.smooth(h) {
			s.raise(t, 0)
			s.raise(mesh.Next(t), 0)
		}
	}
}

// run spreads what was seeded. Around a vertex a value passes unchanged across
// smooth edges; along a facet it falls with the slope, over edges and, with
// two corners known, across the facet.
func (s *spreader) run(ctx context.Context) error {
	s.late = make([]uint8, 3*len(s.field))
	for n := 0; len(s.heap) > 0; n++ {
		if n%chunk == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		e := s.heap.Pop()
		c, value := e.Number, -e.Key
		if value < s.at(c) {
			continue // raised since
		}
		m := s.g.m
		// Corner c starts half-edge c and ends its predecessor.
		nx, pv := mesh.Next(c), mesh.Prev(c)
		if t := s.g.topo.Twin[c]; t != mesh.None && s.rises(mesh.Next(t), value) && s.smooth(c) {
			s.raise(mesh.Next(t), value)
		}
		if t := s.g.topo.Twin[pv]; t != mesh.None && s.rises(t, value) && s.smooth(pv) {
			s.raise(t, value)
		}
		slope := s.g.opt.MaxSlope
		p, q, r := m.Vertices[m.Origin(c)], m.Vertices[m.Origin(nx)], m.Vertices[m.Origin(pv)]
		s.raise(nx, value-float64(slope*p.Distance(q)))
		s.raise(pv, value-float64(slope*p.Distance(r)))
		if s.reached == nil || s.reached[pv] {
			s.front(nx, across(p, r, q, value, s.at(pv), slope), value)
		}
		if s.reached == nil || s.reached[nx] {
			s.front(pv, across(p, q, r, value, s.at(nx), slope), value)
		}
	}
	return nil
}

// front offers corner c the value a of a front that crosses its facet, while
// now is being spread.
func (s *spreader) front(c int32, a, now float64) {
	if a > now && a > s.at(c)+worth {
		if s.late[c] == mostLate {
			return
		}
		s.late[c]++
	}
	s.raise(c, a)
}

// across returns the largest value that reaches t from a point inside edge pq
// under the slope, where the value runs from a to b along the edge; minus
// infinity when an end of the edge reaches it best. (The straight-front update
// of Kimmel and Sethian 1998, with its foot kept inside the edge.)
func across(p, q, t r3.Vector, a, b, slope float64) float64 {
	e := q.Sub(p)
	l := e.Norm()
	if l == 0 {
		return math.Inf(-1)
	}
	g := (b - a) / (slope * l)
	if !(g > -1 && g < 1) {
		return math.Inf(-1)
	}
	w := t.Sub(p)
	x := w.Dot(e) / l
	h := w.Cross(e).Norm() / l
	k := math.Sqrt(1 - g*g)
	if foot := x + h*g/k; foot <= 0 || foot >= l {
		return math.Inf(-1)
	}
	return a + slope*(float64(g*x)-float64(h*k))
}
