package removal

import (
	"errors"
	"fmt"
	"math"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// ErrFaraday is returned for a removal rate that needs more charge than flows.
var ErrFaraday = errors.New("more metal than the charge can dissolve")

// UnreachedError is a target roughness that a skin cannot reach.
type UnreachedError struct {
	Skin       region.Skin
	TargetRaUM float64
	FloorRaUM  float64 // what the bath gets down to
}

// Error names target and floor.
func (e *UnreachedError) Error() string {
	return fmt.Sprintf("%s: the target Ra %.3g um cannot be reached: this bath does not get below %.3g um; raise the target, or lower the floor by a finer last stage and coupons that show it",
		e.Skin, e.TargetRaUM, e.FloorRaUM)
}

// treatment is one stage as the plan reckons with it.
type treatment struct {
	name    string
	rate    float64 // um/min where the local factor is 1
	full    float64 // um/min at 100 % efficiency; 0 when not known
	current float64 // A/cm2, 0 when not known
	voltage float64 // V, 0 when not known
	depth   float64 // um where the factor is 1; NaN for the stage that takes the rest
	floor   float64 // um
	d0      float64 // um; 0: by the sinusoid law

	rateSource, currentSource, voltageSource recipe.Source

	depthSource recipe.Source // none for the stage that takes the rest
	levelSource recipe.Source // of floor and levelling depth
}

// process is the treatment that a recipe describes.
type process struct {
	stages []treatment
	open   int     // stage that takes the rest
	fixed  float64 // um taken by the others where the factor is 1

	target, clear             float64
	wavelength, polarise, gap float64
}

// newProcess reads the treatment off a recipe and checks its rates against Faraday's law.
func newProcess(r *recipe.Recipe) (*process, error) {
	p, err := newProcessUnchecked(r)
	if err != nil {
		return nil, err
	}
	for _, t := range p.stages {
		// A hair of slack: a rate worked out from an efficiency of 1 is not over it.
		if t.full > 0 && t.rate > t.full*(1+1e-9) {
			return nil, fmt.Errorf("stage %s: %.4g um/min at %.4g A/cm2 needs a current efficiency of %.0f %%: %w; lower the rate or correct the current density",
				t.name, t.rate, t.current, 100*t.rate/t.full, ErrFaraday)
		}
	}
	return p, nil
}

// newProcessUnchecked reads the treatment off a recipe.
func newProcessUnchecked(r *recipe.Recipe) (*process, error) {
	f, b := r.Finish, r.Bath
	p := &process{target: f.TargetRaUM.Value, clear: f.Clear.Value, open: -1}
	p.wavelength, p.polarise, p.gap = f.Levelling.WavelengthUM.Or(0), f.Levelling.PolarisationUM.Value, f.Levelling.GapUM.Or(0)
	list := b.Stages
	if len(list) == 0 {
		list = []recipe.Stage{{Name: "bath"}}
	}
	for i, s := range list {
		t, err := newTreatment(r, s)
		if err != nil {
			return nil, err
		}
		if math.IsNaN(t.depth) {
			p.open = i
		} else {
			p.fixed += t.depth
		}
		p.stages = append(p.stages, t)
	}
	if p.open < 0 {
		return nil, errors.New("no stage takes the rest: leave depth_um out of one")
	}
	return p, nil
}

// newTreatment fills in from the bath what a stage leaves out.
func newTreatment(r *recipe.Recipe, s recipe.Stage) (treatment, error) {
	rate := either(s.RateUMPerMin, r.Bath.RateUMPerMin)
	current := either(s.CurrentDensityAPerCM2, r.Bath.CurrentDensityAPerCM2)
	voltage := either(s.VoltageV, r.Bath.VoltageV)
	t := treatment{
		name: s.Name, rate: rate.Or(0), current: current.Or(0), voltage: voltage.Or(0), depth: s.DepthUM.Or(math.NaN()),
		rateSource: rate.Source, currentSource: current.Source, voltageSource: voltage.Source, depthSource: s.DepthUM.Source,
	}
	floor, lv := either(s.FloorRaUM, r.Finish.FloorRaUM), r.Finish.Levelling
	t.floor, t.levelSource = floor.Value, weakest(floor.Source, lv.WavelengthUM.Source, lv.PolarisationUM.Source, lv.GapUM.Source)
	if lv.Law != recipe.LawSinusoid {
		depth := either(s.LevellingDepthUM, lv.DepthUM)
		t.d0, t.levelSource = depth.Value, weakest(floor.Source, depth.Source)
	}
	t.full, _ = r.Material.FullRateUMPerMin(t.current)
	if !rate.Given() && t.full > 0 && r.Bath.Efficiency.Given() {
		t.rate = t.full * r.Bath.Efficiency.Value
		t.rateSource = weakest(current.Source, r.Bath.Efficiency.Source, materialSource(r))
	}
	if !(t.rate > 0) {
		return t, fmt.Errorf("stage %s: nothing says how fast the bath removes: give rate_um_per_min, or current_density_a_per_cm2 with efficiency and material.elements", s.Name)
	}
	return t, nil
}

func either(a, b recipe.Quantity) recipe.Quantity {
	if a.Given() {
		return a
	}
	return b
}

// levellingDepth returns the d0 that holds for a surface in a stage.
func (p *process) levellingDepth(t *treatment, s Surface) float64 {
	if t.d0 > 0 {
		return t.d0
	}
	w := s.WavelengthUM
	if w == 0 {
		w = p.wavelength
	}
	return SinusoidDepth(w, p.polarise, p.gap)
}

// raAfter returns Ra when the open stage takes a depth, all stages where the
// factor is 1, at a place with a factor. No stage makes a surface rougher.
func (p *process) raAfter(s Surface, open, factor float64) float64 {
	ra := s.RaUM
	for i := range p.stages {
		t := &p.stages[i]
		d := t.depth
		if i == p.open {
			d = open
		}
		ra = RaAfter(ra, t.floor, p.levellingDepth(t, s), d*factor)
	}
	return ra
}

// floorRa returns the roughness that endless treatment ends at.
func (p *process) floorRa(s Surface) float64 { return p.raAfter(s, math.Inf(1), 1) }

// need is what a place calls for, in um at the place.
type need struct {
	clear float64 // so that valley roots are gone
	level float64 // so that the target Ra is reached
}

func (n need) depth() float64 { return math.Max(n.clear, n.level) }

// needAt returns what a surface calls for at a local factor. With one stage,
// the factor does not matter.
func (p *process) needAt(skin region.Skin, s Surface, factor float64) (need, error) {
	n := need{clear: p.clear * s.RvUM}
	if s.RaUM <= p.target {
		return n, nil
	}
	if floor := p.floorRa(s); floor >= p.target {
		return n, &UnreachedError{Skin: skin, TargetRaUM: p.target, FloorRaUM: floor}
	}
	if len(p.stages) == 1 {
		t := &p.stages[0]
		n.level = DepthForRa(s.RaUM, t.floor, p.levellingDepth(t, s), p.target)
		return n, nil
	}
	n.level = (p.fixed + p.openFor(s, factor)) * factor
	return n, nil
}

// openFor returns the least depth of the open stage that brings a surface to
// the target, by bisection: the roughness only falls with depth.
func (p *process) openFor(s Surface, factor float64) float64 {
	if p.raAfter(s, 0, factor) <= p.target {
		return 0
	}
	lo, hi := 0.0, 1.0
	for p.raAfter(s, hi, factor) > p.target && hi < 1e9 {
		lo, hi = hi, 2*hi
	}
	for range 60 { // 2^-60 of the depth: as exact as the number
		mid := lo + (hi-lo)/2
		if p.raAfter(s, mid, factor) > p.target {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// run is a treatment with its times set.
type run struct {
	p     *process
	depth []float64 // um a stage where the factor is 1
	time  []float64 // min a stage
}

// runTo returns the run that takes at least a depth where the factor is 1; the
// stages of fixed depth are always done in full.
func (p *process) runTo(depth float64) *run {
	r := &run{p: p, depth: make([]float64, len(p.stages)), time: make([]float64, len(p.stages))}
	for i, t := range p.stages {
		r.depth[i] = t.depth
		if i == p.open {
			r.depth[i] = math.Max(0, depth-p.fixed)
		}
		r.time[i] = r.depth[i] / t.rate
	}
	return r
}

// total returns the depth of all stages where the factor is 1.
func (r *run) total() float64 {
	var d float64
	for _, x := range r.depth {
		d += x
	}
	return d
}

// minutes returns the time of all stages.
func (r *run) minutes() float64 {
	var t float64
	for _, x := range r.time {
		t += x
	}
	return t
}

// raAfter returns Ra of a surface after the run.
func (r *run) raAfter(s Surface, factor float64) float64 {
	return r.p.raAfter(s, r.depth[r.p.open], factor)
}

// minutesTo returns the time of the run that takes at least a depth where the factor is 1.
func (p *process) minutesTo(depth float64) float64 {
	var t float64
	for i := range p.stages {
		d := p.stages[i].depth
		if i == p.open {
			d = math.Max(0, depth-p.fixed)
		}
		t += d / p.stages[i].rate
	}
	return t
}
