package sheet

import (
	"context"
	"math"

	"skinstock/mesh"
	"skinstock/region"
	"skinstock/report/render"
)

// fieldFigures sum a field up, in um; the mean is over the area.
type fieldFigures struct{ least, mean, most float64 }

// skinFigures are one class's entries in the legends, keep zones left out.
type skinFigures struct {
	areaMM2 float64
	mean    [numLayers]float64 // of each map over the area, um; NaN where not known
}

// measure fills in the legends' figures.
func (s *Stage) measure(ctx context.Context) error {
	areas := make([]float64, len(s.in.Skins)) // of Nominal
	err := mesh.Spread(ctx, len(areas), 1<<14, s.workers, func(_, lo, hi int) error {
		for f := lo; f < hi; f++ {
			areas[f] = s.in.Nominal.FacetArea(f)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for f, k := range s.in.Skins {
		if s.in.Keep == nil || s.in.Keep[f] == NotKept {
			s.areas[k].areaMM2 += areas[f]
		} else {
			s.kept[s.in.Keep[f]] += areas[f]
		}
	}
	tasks := []func() error{
		func() error { s.measureGrown(); return nil },
		func() error {
			s.bySkin(Allowance, areas, func(f int) float64 { return mean(s.in.Allowance[f]) })
			return nil
		},
	}
	for l := range numLayers {
		if v := s.in.values(l); v != nil {
			tasks = append(tasks, func() error { s.measureMap(l, v, areas); return nil })
		}
	}
	return mesh.Beside(ctx, s.workers, tasks...)
}

// bySkin finds the mean of a layer over every class.
func (s *Stage) bySkin(l Layer, areas []float64, value func(f int) float64) {
	var sum, area [len(region.Skins)]float64
	for f, k := range s.in.Skins {
		if s.in.Keep != nil && s.in.Keep[f] != NotKept {
			continue
		}
		if v := value(f); !math.IsNaN(v) {
			sum[k] += areas[f] * layers[l].times * v
			area[k] += areas[f]
		}
	}
	for k := range s.areas {
		s.areas[k].mean[l] = sum[k] / area[k] // NaN where nothing was measured
	}
}

// measureGrown sums the allowance up over the grown part.
func (s *Stage) measureGrown() {
	g := fieldFigures{least: math.Inf(1), most: math.Inf(-1)}
	total := 0.0
	for f := range s.in.Grown.Facets {
		c := s.in.AllowanceOf(f)
		a := s.in.Grown.FacetArea(f)
		g.least, g.most = min(g.least, c[0], c[1], c[2]), max(g.most, c[0], c[1], c[2])
		g.mean += a * mean(c)
		total += a
	}
	s.figures[Allowance] = g.over(total, layers[Allowance].times)
	s.scales[Allowance] = render.NewScale(render.Viridis, 0, niceTop(s.figures[Allowance].most))
}

// measureMap sums a map over the nominal part up; facets without a value are left out.
func (s *Stage) measureMap(l Layer, values, areas []float64) {
	s.bySkin(l, areas, func(f int) float64 { return values[f] })
	g := fieldFigures{least: math.Inf(1), most: math.Inf(-1)}
	total := 0.0
	for f, v := range values {
		if !math.IsNaN(v) {
			g.least, g.most = min(g.least, v), max(g.most, v)
			g.mean += areas[f] * v
			total += areas[f]
		}
	}
	s.figures[l] = g.over(total, layers[l].times)
	switch l {
	case Deviation, Finish:
		s.scales[l] = deviationScale(values, areas)
	case FinishedRa:
		s.scales[l] = render.NewScale(render.Cividis, 0, niceTop(s.figures[l].most))
	default:
		s.scales[l] = render.NewScale(render.Viridis, 0, niceTop(s.figures[l].most))
	}
}

// over makes a sum over an area a mean, and all figures larger by a factor.
func (g fieldFigures) over(area, times float64) fieldFigures {
	if area == 0 {
		return fieldFigures{}
	}
	return fieldFigures{times * g.least, times * g.mean / area, times * g.most}
}

// deviationScale is centred on zero and reaches to a round value that holds
// 99 % of the area, so that a single outlier does not wash out the rest: it is
// marked as out of range instead. Values are mm, areas mm2.
func deviationScale(values, areas []float64) *render.Scale {
	parts := make([]render.Weighted, 0, len(values))
	total := 0.0
	for f, v := range values {
		if !math.IsNaN(v) {
			parts = append(parts, render.Weighted{Value: 1000 * math.Abs(v), Weight: areas[f]})
			total += areas[f]
		}
	}
	run, sum, below := render.Around(parts, 0.99*total)
	top := math.Max(1, below) // never finer than 1 um, which is the proof's own tolerance
	for _, p := range run {
		if sum += p.Weight; sum > 0.99*total {
			break
		}
		top = math.Max(top, p.Value)
	}
	top = niceTop(top)
	s := render.NewScale(render.PuOr, -top, top)
	s.Under, s.Over = render.Hex(underColour), render.Hex(overColour)
	return s
}

// niceTop returns a round end for a scale from zero: the first multiple of a
// step of 1, 2 or 5 times a power of ten, about a twelfth of the value, that holds it.
func niceTop(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	step := render.RoundStep(v / 12)
	return step * math.Ceil(v/step-1e-9)
}
