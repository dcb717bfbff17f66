package field

import (
	"context"
	"math"
	"sort"

	"skinstock/mesh"
)

// Fast is Solve with few panels and coarse sums: seconds become tenths, and the
// shape is still the part's own, since panels are gathered from its facets. It
// resolves what is larger than its panels: lobes, tips, crotches and faces;
// beside edges it gives means over wider strips, and holes that its panels
// cannot resolve come out by their order only. ErrorEstimate tells.
//
// Mean gap per facet to the full model, as TestFastAgainstFull prints it: the
// box 4 x 2 x 1 6 % (its edges), an ellipsoid 1 %, the smooth bracket, of rough
// voxel-born facets, 6 %. Seen once: a smooth gyroid 4 %, one of rough facets 14 %.
func Fast(ctx context.Context, m *mesh.Mesh, opt Options) (*Result, error) {
	if opt.MaxPanels <= 0 {
		n, err := fastPanels(ctx, m, opt.Workers)
		if err != nil {
			return nil, err
		}
		opt.MaxPanels = n
	}
	if opt.Degree <= 0 {
		opt.Degree = 6
	}
	if opt.Tolerance <= 0 {
		opt.Tolerance = 1e-4
	}
	return Solve(ctx, m, opt)
}

// Panels of the fast model, and the share of the room in front of them that they
// may be as large as: hollows of a lattice or pipe come out too open otherwise.
const (
	fastLeast = 2000
	fastMost  = 12000
	fastShare = 0.3
)

// fastPanels counts the panels that the hollows of m call for, within bounds.
func fastPanels(ctx context.Context, m *mesh.Mesh, workers int) (int, error) {
	if err := checkClosed(m); err != nil {
		return 0, err
	}
	rooms := newRooms(m, workers)
	ss, err := samples(ctx, m, fastLeast, &sizing{rooms: rooms, workers: max(1, workers)})
	if err != nil {
		return 0, err
	}
	largest := math.Sqrt(m.Area() / (fullPanel * fastLeast))
	var n float64
	for _, s := range ss {
		h := math.Max(largest/4, math.Min(largest, fastShare*s.room))
		n += s.area / (fullPanel * h * h)
	}
	return int(math.Max(fastLeast, math.Min(fastMost, math.Ceil(n)))), nil
}

// Spread tells how a factor is spread over the area: extremes and shares.
type Spread struct {
	Min, P01, P05, Median, P95, P99, Max float64
}

// Spread returns how the factor per facet is spread over the area of m that is
// not insulated.
func (r *Result) Spread(m *mesh.Mesh) Spread {
	order := make([]int, 0, len(m.Facets))
	area := make([]float64, len(m.Facets))
	var whole float64
	for f := range m.Facets {
		if area[f] = m.FacetArea(f); area[f] > 0 && (r.Insulated == nil || !r.Insulated[f]) {
			order = append(order, f)
			whole += area[f]
		}
	}
	if len(order) == 0 {
		return Spread{}
	}
	sort.SliceStable(order, func(i, j int) bool { return r.PerFacet[order[i]] < r.PerFacet[order[j]] })
	s := Spread{Min: r.PerFacet[order[0]], Max: r.PerFacet[order[len(order)-1]]}
	marks := []struct {
		share float64
		to    *float64
	}{{0.01, &s.P01}, {0.05, &s.P05}, {0.5, &s.Median}, {0.95, &s.P95}, {0.99, &s.P99}}
	var sum float64
	k := 0
	for _, f := range order {
		sum += area[f]
		for k < len(marks) && sum >= marks[k].share*whole*(1-1e-12) {
			*marks[k].to = r.PerFacet[f]
			k++
		}
	}
	return s
}

// Reached returns the bath's depth at factor 1 that gives every place but the
// stated share of the area at least the depth wanted, the same unit for both;
// infinity when more than that share takes nothing.
func (r *Result) Reached(m *mesh.Mesh, wanted, leftShare float64) float64 {
	order := make([]int, len(m.Facets))
	for f := range order {
		order[f] = f
	}
	sort.SliceStable(order, func(i, j int) bool { return r.PerFacet[order[i]] < r.PerFacet[order[j]] })
	left := leftShare * m.Area()
	var sum float64
	for _, f := range order {
		if sum += m.FacetArea(f); sum > left {
			if r.PerFacet[f] <= 0 {
				return math.Inf(1)
			}
			return wanted / r.PerFacet[f]
		}
	}
	return 0
}
