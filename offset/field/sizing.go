package field

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Panels shrink towards sharp edges, where the flux grows without bound, and in
// holes and gaps, where it fades within half a width: see Options.MaxPanels.
const (
	edgeShare = 1. / 12 // panels at a sharp edge, as a share of the largest
	edgeSlope = 0.35    // growth of the panels per distance from the edge
	roomShare = 0.25    // panels in a hole or gap, as a share of the room in front of them
	fullPanel = 0.433   // area of a panel over the square of its size: the equilateral triangle's
)

// sizing gives the wanted size of panels at a place, in mm.
type sizing struct {
	largest float64
	least   float64 // at sharp edges and in narrow gaps
	edges   *segmentTree
	room    func(p, n r3.Vector) float64 // room in front, mm; nil for none measured
}

// at returns the wanted edge length of panels at p, where the outward normal is n.
func (s *sizing) at(p, n r3.Vector) float64 {
	reach := (s.largest - s.least) / edgeSlope
	h := math.Min(s.largest, s.least+edgeSlope*s.edges.distance(p, reach))
	if s.room != nil {
		h = math.Min(h, math.Max(s.least, roomShare*s.room(p, n)))
	}
	return h
}

// sample is a place that stands for its share of the surface.
type sample struct{ area, edge, room float64 }

// samples spreads about n places evenly over the surface and measures them once.
func samples(m *mesh.Mesh, n int, edges *segmentTree, room func(p, n r3.Vector) float64) []sample {
	whole := m.Area()
	step := whole / float64(n)
	if step == 0 {
		return nil
	}
	lo, hi := m.Bounds()
	far := hi.Sub(lo).Norm()
	out := make([]sample, 0, n+1)
	next, sum, k := step/2, 0.0, 0
	for f := range m.Facets {
		sum += m.FacetArea(f)
		for ; next < sum; next += step {
			// Additive recurrence of the plane (M. Roberts): even cover inside a facet whatever its size.
			k++
			u, v := frac(0.7548776662466927*float64(k)), frac(0.5698402909980532*float64(k))
			if u+v > 1 {
				u, v = 1-u, 1-v
			}
			a, b, c := m.Triangle(f)
			p := node3{1 - u - v, u, v, 0}.at(a, b, c)
			s := sample{step, edges.distance(p, far), math.Inf(1)}
			if room != nil {
				s.room = room(p, m.FacetNormal(f))
			}
			out = append(out, s)
		}
	}
	return out
}

func frac(x float64) float64 { return x - math.Floor(x) }

// estimate counts the panels that a largest size asks for.
func (s *sizing) estimate(ss []sample) float64 {
	var n float64
	for _, p := range ss {
		h := math.Min(s.largest, s.least+edgeSlope*p.edge)
		h = math.Min(h, math.Max(s.least, roomShare*p.room))
		n += p.area / (fullPanel * h * h)
	}
	return n
}

// fit chooses the largest size that keeps the count within the budget.
// Panels below half the strip would only resolve what is averaged away.
func (s *sizing) fit(ss []sample, budget, strip float64) {
	var whole float64
	for _, p := range ss {
		whole += p.area
	}
	lo, hi := 0.25*math.Sqrt(whole/(fullPanel*budget)), math.Sqrt(whole) // of the largest size
	for range 40 {
		s.set(math.Sqrt(lo*hi), strip)
		if s.estimate(ss) > budget {
			lo = s.largest
		} else {
			hi = s.largest
		}
	}
	s.set(hi, strip)
}

func (s *sizing) set(largest, strip float64) {
	s.largest = largest
	s.least = math.Min(largest, math.Max(edgeShare*largest, strip/2))
}
