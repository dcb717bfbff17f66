package removal

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"

	"skinstock/offset/recipe"
)

// Swing is how the plan moves when one value of the recipe moves.
type Swing struct {
	Path   string        `json:"path"`
	Unit   string        `json:"unit"`
	Value  float64       `json:"value"`
	Source recipe.Source `json:"source"`
	Low    Move          `json:"low"`  // with the value lowered
	High   Move          `json:"high"` // with the value raised
	Rank   float64       `json:"rank"` // largest change of the allowance, um
}

// Move is the plan with one value moved, against the plan as it is.
type Move struct {
	Value       float64 `json:"value"`
	AllowanceUM float64 `json:"allowance_um"` // change of the area-weighted mean allowance
	TimeMin     float64 `json:"time_min"`     // change of the bath time
	MassG       float64 `json:"mass_g"`       // change of the mass removed
	// Limited is set where the value was moved less, to stay within what is possible.
	Limited bool `json:"limited,omitempty"`
	// Unreached is set where no plan comes out, because the target cannot be reached or the rate is beyond the charge.
	Unreached bool `json:"unreached,omitempty"`
}

// Sensitivity moves each value of the recipe down and up by a share (0.2 for
// 20 %) and returns how allowance, time and mass follow, the largest change of
// the allowance first; then the largest change of time. Values that move
// nothing are left out. Rules for sorting and moving the surface and limits of
// the screening are no part of it.
func (p *Plan) Sensitivity(share float64) ([]Swing, error) {
	base := p.meanAllowance()
	var out []Swing
	for _, v := range p.Recipe.Values() {
		if strings.HasPrefix(v.Path, "geometry.") || strings.HasPrefix(v.Path, "screen.") || v.Value == 0 {
			continue
		}
		s := Swing{Path: v.Path, Unit: v.Unit, Value: v.Value, Source: v.Source}
		for _, side := range []struct {
			m    *Move
			sign float64
		}{{&s.Low, -1}, {&s.High, 1}} {
			m, err := p.move(v.Path, v.Value*(1+side.sign*share), base)
			if err != nil {
				return nil, err
			}
			*side.m = m
		}
		s.Rank = math.Max(math.Abs(s.Low.AllowanceUM), math.Abs(s.High.AllowanceUM))
		if s.moves() {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Swing) int {
		return cmp.Or(cmp.Compare(b.Rank, a.Rank), cmp.Compare(b.timeSwing(), a.timeSwing()))
	})
	return out, nil
}

func (s Swing) timeSwing() float64 {
	return math.Max(math.Abs(s.Low.TimeMin), math.Abs(s.High.TimeMin))
}

func (s Swing) moves() bool {
	const nothing = 1e-9 // rounding of the two plans
	mass := math.Max(math.Abs(s.Low.MassG), math.Abs(s.High.MassG))
	return s.Rank > nothing || s.timeSwing() > nothing || mass > nothing || s.Low.Unreached || s.High.Unreached
}

// move plans anew with one value changed.
func (p *Plan) move(path string, value, base float64) (Move, error) {
	lo, hi, loOpen, hiOpen := p.Recipe.Bounds(path)
	m := Move{Value: value}
	if value < lo || (loOpen && value == lo) || value > hi || (hiOpen && value == hi) {
		m.Value = math.Min(math.Max(value, lo), hi)
		if (loOpen && m.Value == lo) || (hiOpen && m.Value == hi) {
			m.Value = math.Nextafter(m.Value, (lo+hi)/2)
		}
		m.Limited = true
	}
	r, _ := p.Recipe.With(path, m.Value)
	q, err := New(r, p.Part, p.opt)
	var un *UnreachedError
	if errors.As(err, &un) || errors.Is(err, ErrFaraday) {
		m.Unreached = true
		return m, nil
	}
	if err != nil {
		return m, err
	}
	m.AllowanceUM = q.meanAllowance() - base
	m.TimeMin = q.TimeMin - p.TimeMin
	m.MassG = q.Bath.MassRemovedG - p.Bath.MassRemovedG
	return m, nil
}

// meanAllowance returns the area-weighted mean of the computed allowance, um.
func (p *Plan) meanAllowance() float64 {
	var sum, area float64
	for _, s := range p.Skins {
		sum += float64(s.ComputedUM.Mean * s.AreaMM2)
		area += s.AreaMM2
	}
	return sum / area
}
