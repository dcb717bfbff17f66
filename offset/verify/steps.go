package verify

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// stepHalvings bounds the search for a step along an edge: one of 1 mm is found within 0.02 um.
const stepHalvings = 16

// Where the nominal place nearest to the grown surface becomes one that calls for less,
// as over the rim of a face with little stock, what lacked before ends at once: most is
// lacking just before that, in the midst of a facet or of an edge. steps asks there,
// along the edges of facet f of the grown surface.
func (s *grownSamples) steps(w *outsideGroup, f int) {
	m := s.grown
	for k := range 3 {
		v, u := m.Facets[f][k], m.Facets[f][(k+1)%3]
		if s.foot[v] < 0 || s.foot[u] < 0 || math.Abs(s.called[v]-s.called[u]) <= sag {
			continue
		}
		if _, ok := s.toldOf(f, k); ok {
			s.step(w, f, s.callOn(v), s.callOn(u))
		}
	}
}

// step measures facet f just before a step between two places on an edge of it. Where
// what is called for falls evenly, and no step is near either end, there is none, nor
// over one nominal facet.
func (s *grownSamples) step(w *outsideGroup, f int, more, less call) {
	if more.a < less.a {
		more, less = less, more
	}
	end, known := more.at, false
	for range stepHalvings {
		fall := more.a - less.a
		if fall <= sag || more.clears(less) || more.one && less.one && more.hit.Facet == less.hit.Facet {
			return
		}
		y := more.at.Add(less.at).Mul(0.5)
		c := s.callAt(y, s.around.Closest(y, more.hit.Facet))
		left := more.a - c.a
		if !known && left >= fall/4 && left <= fall*3/4 {
			if known = s.besideStep[more.hit.Facet] || s.besideStep[less.hit.Facet]; !known {
				return
			}
		}
		if left < fall/2 {
			more = c
		} else {
			less = c
		}
	}
	if more.a-more.hit.Dist > sag {
		s.before(w, f, more, end.Sub(more.at), (more.a+less.a)/2)
	}
}

// before measures facet f beside a place just before a step, towards the end of the
// edge. So near to the step both sides count as nearest: it is asked where they just do
// not, and more than half is called for.
func (s *grownSamples) before(w *outsideGroup, f int, at call, way r3.Vector, half float64) {
	var y r3.Vector
	var h bvh.Hit
	more := func(share float64) bool {
		y = at.at.Add(way.Mul(share))
		h = s.around.Closest(y, at.hit.Facet)
		return s.least(y, h) > half
	}
	lo, hi := 0.0, math.Exp2(-stepHalvings)
	for !more(hi) {
		if hi >= 1 {
			return
		}
		lo, hi = hi, 2*hi
	}
	for range stepHalvings / 2 {
		if mid := (lo + hi) / 2; more(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	more(hi)
	s.place(&w.edges, f, -1, y, h)
}

// besideSteps marks the facets of the nominal mesh at whose corners an uneven edge ends.
func besideSteps(m *mesh.Mesh, uneven creases, workers int) []bool {
	ends, beside := make([]bool, len(m.Vertices)), make([]bool, len(m.Facets))
	for _, f := range mesh.Which(len(m.Facets), workers, func(f int) bool { return uneven[f] != 0 }) {
		for k, t := 0, m.Facets[f]; k < 3; k++ {
			if uneven.has(int(f), k) {
				ends[t[k]], ends[t[(k+1)%3]] = true, true
			}
		}
	}
	mesh.InChunks(len(beside), workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := m.Facets[f]
			beside[f] = ends[t[0]] || ends[t[1]] || ends[t[2]]
		}
	})
	return beside
}

// call is what is called for at a place of the grown surface.
type call struct {
	at  r3.Vector
	hit bvh.Hit // the nominal place nearest to it
	a   float64 // the least that the facets there call for
	one bool    // they agree
}

func (s *grownSamples) callAt(y r3.Vector, h bvh.Hit) call {
	least, most := s.meeting(h)
	return call{y, h, least, most-least <= sag}
}

// callOn is the call at a vertex.
func (s *grownSamples) callOn(v int32) call {
	y := s.grown.Vertices[v]
	return s.callAt(y, s.around.On(int(s.foot[v]), y))
}

// clears tells whether what is called for here is certainly there all the way to another
// place: the square of the distance from a surface, less that from any one point, is
// concave along a line.
func (c *call) clears(to call) bool {
	least, gain := c.hit.Dist*c.hit.Dist, to.hit.Dist*to.hit.Dist-c.hit.Dist*c.hit.Dist
	way := c.at.Sub(to.at).Norm2()
	if gain < -way {
		least += gain
	} else if gain < way {
		least -= (way - gain) * (way - gain) / (4 * way)
	}
	want := c.a - sag
	return least >= want*want
}
