package field

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Panels shrink towards sharp edges, where the flux grows without bound, and in
// holes and gaps, where it fades within half a width: see Options.MaxPanels.
const (
	edgeShare = 1. / 8 // panels at a sharp edge, as a share of the largest
	edgeSlope = 0.5    // growth of the panels per distance from the edge
	roomShare = 0.15   // panels in a hole or gap, as a share of the room in front of them
	roomBelow = 3      // times smaller than at sharp edges may panels in narrow places be
	fullPanel = 0.433  // area of a panel over the square of its size: the equilateral triangle's
)

// sizing gives the wanted size of panels at a place, in mm.
type sizing struct {
	largest float64
	least   float64 // at sharp edges and in narrow gaps
	edges   *segmentTree
	rooms   *rooms
	workers int
}

// at returns the wanted edge length of panels at p, where the outward normal is n.
func (s *sizing) at(p, n r3.Vector) float64 {
	h := s.beside(p)
	return s.narrow(h, s.rooms.at(p, n, h/roomShare))
}

// beside is the size that the sharp edges around p leave.
func (s *sizing) beside(p r3.Vector) float64 {
	return s.edges.least(p, edgeSlope, s.largest, s.edgeSize)
}

// edgeSize is the size at a sharp edge with the given room beside it.
func (s *sizing) edgeSize(room float64) float64 { return s.narrow(s.least, room/4) }

// narrow lowers a size to its share of the room, within bounds.
func (s *sizing) narrow(h, room float64) float64 {
	return math.Min(h, math.Max(s.least/roomBelow, roomShare*room))
}

// place is a point of the surface and the outward normal there.
type place struct{ at, normal r3.Vector }

// all returns the wanted sizes at many places.
func (s *sizing) all(ctx context.Context, ps []place) ([]float64, error) {
	out := make([]float64, len(ps))
	err := spread(ctx, s.workers, len(ps), 256, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			out[i] = s.at(ps[i].at, ps[i].normal)
		}
	})
	return out, err
}

// sample is a place that stands for its share of the surface.
type sample struct {
	at   r3.Vector
	area float64
	room float64
}

// samples spreads about n places evenly over the surface and measures them once.
func samples(ctx context.Context, m *mesh.Mesh, n int, s *sizing) ([]sample, error) {
	step := m.Area() / float64(n)
	if step == 0 {
		return nil, nil
	}
	ps := make([]place, 0, n+1)
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
			ps = append(ps, place{node3{1 - u - v, u, v, 0}.at(a, b, c), m.FacetNormal(f)})
		}
	}
	out := make([]sample, len(ps))
	err := spread(ctx, s.workers, len(ps), 256, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			out[i] = sample{ps[i].at, step, s.rooms.at(ps[i].at, ps[i].normal, s.rooms.most)}
		}
	})
	return out, err
}

func frac(x float64) float64 { return x - math.Floor(x) }

// estimate counts the panels that the sizes ask for.
func (s *sizing) estimate(ctx context.Context, ss []sample) (float64, error) {
	counts := make([]float64, len(ss))
	err := spread(ctx, s.workers, len(ss), 256, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			h := s.narrow(s.beside(ss[i].at), ss[i].room)
			counts[i] = ss[i].area / (fullPanel * h * h)
		}
	})
	var n float64
	for _, c := range counts {
		n += c
	}
	return n, err
}

// fit chooses the largest size that keeps the count within the budget.
// Panels below half the strip would only resolve what is averaged away.
func (s *sizing) fit(ctx context.Context, ss []sample, budget, strip float64) error {
	var whole float64
	for _, p := range ss {
		whole += p.area
	}
	lo, hi := 0.25*math.Sqrt(whole/(fullPanel*budget)), math.Sqrt(whole) // of the largest size
	for range 14 {
		s.set(math.Sqrt(lo*hi), strip)
		n, err := s.estimate(ctx, ss)
		if err != nil {
			return err
		}
		if n > budget {
			lo = s.largest
		} else {
			hi = s.largest
		}
	}
	s.set(hi, strip)
	return nil
}

func (s *sizing) set(largest, strip float64) {
	s.largest = largest
	s.least = math.Min(largest, math.Max(edgeShare*largest, strip/2))
}
