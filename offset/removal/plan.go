package removal

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/s1"

	"skinstock/mesh/finding"
	"skinstock/offset/recipe"
	"skinstock/region"
)

// ErrNoSurface is returned for a part without area.
var ErrNoSurface = errors.New("the part has no surface")

// Part is what the plan needs to know of the part.
type Part struct {
	Areas     []Area     // area by skin, in one piece a skin or by inclination
	SizeMM    [3]float64 // box around the nominal part; zero when not known
	VolumeMM3 float64    // zero when not known
}

// Factor is the local exposure of a skin: removal there over removal where the factor is 1.
type Factor struct {
	Least float64 // where the skin is reached worst; sets the time
	Mean  float64 // sets what the skin loses on average
}

// Options are the choices beyond the recipe.
type Options struct {
	// Exposure gives local factors from a run of the bath field; skins not in it have 1.
	Exposure map[region.Skin]Factor

	// FixedUM gives allowances in um that stand in place of the computed ones, by skin.
	FixedUM map[region.Skin]float64

	// Quiet leaves the findings out: for plans that are only compared.
	Quiet bool

	// Roughness stands in place of the recipe's model of the as-built surface;
	// nil takes the recipe's. Its heights in um must be finite and not negative.
	Roughness Roughness
}

// Stats are an area-weighted mean with its extremes.
type Stats struct {
	Min  float64 `json:"min"`
	Mean float64 `json:"mean"`
	Max  float64 `json:"max"`
}

// SkinPlan is the plan for one skin. Roughness, depths and heights are
// area-weighted means in um over the skin where they vary with inclination.
// AllowanceUM.Mean is TakenUM + StandOffUM - OversizeUM + ExtraUM, unless
// Fixed or cut off at 0.
type SkinPlan struct {
	Skin    region.Skin `json:"skin"`
	Faces   int         `json:"faces"`
	AreaMM2 float64     `json:"area_mm2"`

	RaUM         float64 `json:"ra_um"`
	RzUM         float64 `json:"rz_um"`
	RpUM         float64 `json:"rp_um"`
	RvUM         float64 `json:"rv_um"`
	WavelengthUM float64 `json:"wavelength_um,omitempty"` // of the mean place

	ClearUM        float64 `json:"clear_um"` // depth that clears valley roots
	LevelUM        float64 `json:"level_um"` // depth that reaches the target Ra
	CalledForUM    float64 `json:"called_for_um"`
	CalledForMaxUM float64 `json:"called_for_max_um"`
	TakenUM        float64 `json:"taken_um"`
	StandOffUM     float64 `json:"standoff_um"`
	OversizeUM     float64 `json:"oversize_um"`
	ExtraUM        float64 `json:"extra_um"`
	ComputedUM     Stats   `json:"computed_um"`  // allowance by the recipe
	AllowanceUM    Stats   `json:"allowance_um"` // the same, or the fixed value
	Fixed          bool    `json:"fixed"`        // a fixed allowance stands in

	FinishedRaUM    float64 `json:"finished_ra_um"`
	FinishedRaMaxUM float64 `json:"finished_ra_max_um"`
	FinishedGrade   string  `json:"finished_grade"`  // roughness grade that FinishedRaMaxUM qualifies for, N1 to N12; empty beyond
	OverPolishUM    float64 `json:"over_polish_um"`  // taken beyond what was called for
	OverPolishMin   float64 `json:"over_polish_min"` // minutes that takes
	TimeMin         float64 `json:"time_min"`        // time this skin needs by itself
	Governs         bool    `json:"governs"`         // sets the bath time
}

// Plan says what the bath takes and by how much the part is printed proud.
type Plan struct {
	Recipe   *recipe.Recipe
	Part     Part
	Exposure recipe.Exposure
	Skins    []SkinPlan // those with area, in table order
	TimeMin  float64    // time in the bath, all stages
	Governs  region.Skin
	Stages   []StagePlan
	Bath     Bath
	Findings []finding.Finding

	opt    Options
	rough  Roughness
	proc   *process
	shared *run // the one bath of shared exposure; nil in own exposure
	known  [len(region.Skins)]*Place
}

// New works the plan out. The recipe must come from package recipe without an
// error. A target that a skin cannot reach is an [UnreachedError]; a rate
// beyond Faraday's law has [ErrFaraday] in its chain.
func New(r *recipe.Recipe, part Part, opt Options) (*Plan, error) {
	if err := checkInput(part, opt); err != nil {
		return nil, err
	}
	p := &Plan{Recipe: r, Part: part, Exposure: r.Finish.Exposure, opt: opt}
	var err error
	if p.rough, err = roughnessOf(r, p.opt); err != nil {
		return nil, err
	}
	if p.proc, err = newProcess(r); err != nil {
		return nil, err
	}
	if err := p.schedule(); err != nil {
		return nil, err
	}
	for _, skin := range region.Skins {
		p.addSkin(skin)
		if !p.rough.Continuous() {
			pl := p.place(skin, 0, p.factor(skin).Mean)
			p.known[skin] = &pl
		}
	}
	p.stagesAndBath()
	if !opt.Quiet {
		p.lookAround()
	}
	return p, nil
}

// maxFixedUM is the largest fixed allowance: a centimetre is no skin any more.
const maxFixedUM = 10000

func checkInput(part Part, opt Options) error {
	var total float64
	for _, a := range part.Areas {
		if !(a.AreaMM2 >= 0) || math.IsInf(a.AreaMM2, 0) {
			return fmt.Errorf("%s: an area of %g mm2 cannot be", a.Skin, a.AreaMM2)
		}
		total += a.AreaMM2
	}
	if !(total > 0) {
		return ErrNoSurface
	}
	for _, skin := range region.Skins {
		if f, ok := opt.Exposure[skin]; ok && !(f.Least > 0 && f.Mean >= f.Least && f.Mean < 1e6) {
			return fmt.Errorf("%s: exposure from %g to a mean of %g cannot be treated: the bath must reach every place of the skin, or the place be left out", skin, f.Least, f.Mean)
		}
		if a, ok := opt.FixedUM[skin]; ok && !(a >= 0 && a <= maxFixedUM) {
			return fmt.Errorf("%s: %w of %g um cannot be: give 0 to %d", skin, ErrFixed, a, maxFixedUM)
		}
	}
	return nil
}

// factor returns the exposure of a skin.
func (p *Plan) factor(skin region.Skin) Factor {
	if f, ok := p.opt.Exposure[skin]; ok {
		return f
	}
	return Factor{1, 1}
}

// angles returns the angles in degrees at which a piece of surface is looked at: mean, least, greatest.
func angles(a Area) []float64 {
	mean := angle(a.Skin, a.Theta)
	if a.From == 0 && a.To == 0 {
		return []float64{mean}
	}
	return []float64{mean, angle(a.Skin, a.From), angle(a.Skin, a.To)}
}

// schedule finds which skin sets the time, and in shared exposure the one run.
func (p *Plan) schedule() error {
	strict := p.Recipe.Roughness.Model == recipe.ModelTable && p.Recipe.Roughness.Table.Outside == recipe.OutsideError
	best := -1.0
	var depth float64
	for _, a := range p.Part.Areas {
		if a.AreaMM2 == 0 {
			continue
		}
		for _, deg := range angles(a) {
			s := p.rough.At(a.Skin, deg)
			if s.Outside && strict {
				return outsideError(a.Skin, deg)
			}
			f := p.factor(a.Skin).Least
			n, err := p.proc.needAt(a.Skin, s, f)
			if err != nil {
				return err
			}
			if t := p.proc.minutesTo(n.depth() / f); t > best {
				best, p.Governs, depth = t, a.Skin, n.depth()/f
			}
		}
	}
	p.TimeMin = best
	if p.Exposure != recipe.ExposureOwn {
		p.shared = p.proc.runTo(depth)
	}
	return nil
}

// addSkin sums up the pieces of one skin.
func (p *Plan) addSkin(skin region.Skin) {
	s := SkinPlan{Skin: skin, Governs: skin == p.Governs, ExtraUM: p.Recipe.Finish.ExtraUM.Value}
	s.ComputedUM = Stats{Min: math.Inf(1), Max: math.Inf(-1)}
	s.AllowanceUM = s.ComputedUM
	var moment float64
	for _, a := range p.Part.Areas {
		if a.Skin != skin || a.AreaMM2 == 0 {
			continue
		}
		s.Faces += a.Faces
		s.AreaMM2 += a.AreaMM2
		for i, deg := range angles(a) {
			pl := p.place(skin, deg, p.factor(skin).Mean)
			s.extremes(pl)
			if i == 0 {
				s.weigh(pl, a.AreaMM2)
				moment += float64(a.AreaMM2 * deg)
			}
		}
	}
	if s.AreaMM2 == 0 {
		return
	}
	s.divide(s.AreaMM2)
	s.WavelengthUM = p.rough.At(skin, moment/s.AreaMM2).WavelengthUM
	s.FinishedGrade = NGrade(s.FinishedRaMaxUM * (1 - 1e-9)) // rounding must not cost a grade
	_, s.Fixed = p.opt.FixedUM[skin]
	p.Skins = append(p.Skins, s)
}

// extremes widens the ranges of a skin by a place.
func (s *SkinPlan) extremes(pl Place) {
	s.ComputedUM.Min, s.ComputedUM.Max = math.Min(s.ComputedUM.Min, pl.ComputedUM), math.Max(s.ComputedUM.Max, pl.ComputedUM)
	s.AllowanceUM.Min, s.AllowanceUM.Max = math.Min(s.AllowanceUM.Min, pl.AllowanceUM), math.Max(s.AllowanceUM.Max, pl.AllowanceUM)
	s.CalledForMaxUM = math.Max(s.CalledForMaxUM, pl.CalledForUM)
	s.FinishedRaMaxUM = math.Max(s.FinishedRaMaxUM, pl.FinishedRaUM)
	s.TimeMin = math.Max(s.TimeMin, pl.TimeMin)
}

// means lists what is averaged over a skin, beside where a place has it.
func (s *SkinPlan) means(pl *Place) [14][2]*float64 {
	return [14][2]*float64{
		{&s.RaUM, &pl.RaUM},
		{&s.RzUM, &pl.RzUM},
		{&s.RpUM, &pl.RpUM},
		{&s.RvUM, &pl.RvUM},
		{&s.ClearUM, &pl.ClearUM},
		{&s.LevelUM, &pl.LevelUM},
		{&s.CalledForUM, &pl.CalledForUM},
		{&s.TakenUM, &pl.TakenUM},
		{&s.StandOffUM, &pl.StandOffUM},
		{&s.OversizeUM, &pl.OversizeUM},
		{&s.FinishedRaUM, &pl.FinishedRaUM},
		{&s.OverPolishUM, &pl.OverPolishUM},
		{&s.ComputedUM.Mean, &pl.ComputedUM},
		{&s.AllowanceUM.Mean, &pl.AllowanceUM},
	}
}

// weigh adds a place with a weight to the means.
func (s *SkinPlan) weigh(pl Place, w float64) {
	for _, m := range s.means(&pl) {
		*m[0] += float64(w * *m[1])
	}
	s.OverPolishMin += float64(w * pl.OverPolishMin)
}

// divide turns weighted sums into means.
func (s *SkinPlan) divide(w float64) {
	for _, m := range s.means(&Place{}) {
		*m[0] /= w
	}
	s.OverPolishMin /= w
}

// Skin returns the plan of a skin, and whether the part has it.
func (p *Plan) Skin(skin region.Skin) (SkinPlan, bool) {
	for _, s := range p.Skins {
		if s.Skin == skin {
			return s, true
		}
	}
	return SkinPlan{}, false
}

// SharedDepthUM returns the depth in um that the bath takes where the local
// factor is 1; a place with factor f loses f times that. ok is false in own
// exposure, where each skin has its own.
func (p *Plan) SharedDepthUM() (depth float64, ok bool) {
	if p.shared == nil {
		return 0, false
	}
	return p.shared.total(), true
}

// Continuous tells whether the allowance varies with the inclination inside a
// skin; if not, [Plan.At] gives one value a skin.
func (p *Plan) Continuous() bool { return p.rough.Continuous() }

// At returns the plan for a place of a skin whose normal makes an angle with
// the build direction: 0 flat top, 90 degrees wall, 180 ceiling. For downskin
// and platform, angles below 90 degrees are taken as the inclination to the
// platform. The exposure is the mean of the skin.
func (p *Plan) At(skin region.Skin, theta s1.Angle) Place {
	if !p.rough.Continuous() {
		return *p.known[skin]
	}
	return p.place(skin, angle(skin, theta), p.factor(skin).Mean)
}

// AtExposed is At for a place with a local exposure factor of its own.
func (p *Plan) AtExposed(skin region.Skin, theta s1.Angle, factor float64) Place {
	return p.place(skin, angle(skin, theta), factor)
}
