package removal

import (
	"math"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// Place is the plan for one place of the surface, in um.
type Place struct {
	Surface

	ClearUM      float64 // depth that clears valley roots
	LevelUM      float64 // depth that reaches the target Ra; +Inf where it cannot
	CalledForUM  float64 // the larger of the two
	TakenUM      float64 // what the bath takes
	StandOffUM   float64 // how far the size datum lies outside the as-built mean surface
	ExtraUM      float64
	ComputedUM   float64 // TakenUM + StandOffUM - OversizeUM + ExtraUM, at least 0
	AllowanceUM  float64 // the same, or the fixed value
	Negative     bool    // the sum was below 0
	FinishedRaUM float64

	OverPolishUM  float64 // TakenUM - CalledForUM
	OverPolishMin float64 // minutes the open stage takes for that
	TimeMin       float64 // time the place needs by itself; +Inf where the bath does not get
}

// place works a place out.
func (p *Plan) place(skin region.Skin, deg, factor float64) Place {
	s := p.rough.At(skin, deg)
	pl := Place{Surface: s, ExtraUM: p.Recipe.Finish.ExtraUM.Value}
	n, err := p.proc.needAt(skin, s, factor)
	if err != nil {
		n.level = math.Inf(1)
	}
	pl.ClearUM, pl.LevelUM, pl.CalledForUM = n.clear, n.level, n.depth()
	p.treat(&pl, n, factor)
	if p.Recipe.Print.SizeDatum != recipe.DatumMean {
		pl.StandOffUM = s.RpUM
	}
	sum := pl.TakenUM + pl.StandOffUM - pl.OversizeUM + pl.ExtraUM
	pl.Negative = sum < 0
	pl.ComputedUM = math.Max(0, sum)
	pl.AllowanceUM = pl.ComputedUM
	if a, ok := p.opt.FixedUM[skin]; ok {
		pl.AllowanceUM = a
	}
	return pl
}

// treat enters what the bath does to a place.
func (p *Plan) treat(pl *Place, n need, factor float64) {
	if !(factor > 0) { // the bath does not get there
		pl.FinishedRaUM, pl.OverPolishUM, pl.TimeMin = pl.RaUM, -n.depth(), math.Inf(1)
		return
	}
	run := p.shared
	if run == nil {
		run = p.proc.runTo(n.depth() / factor)
		pl.TimeMin = run.minutes()
	} else {
		pl.TimeMin = p.proc.minutesTo(n.depth() / factor)
	}
	pl.TakenUM = run.total() * factor
	pl.FinishedRaUM = run.raAfter(pl.Surface, factor)
	pl.OverPolishUM = pl.TakenUM - n.depth()
	pl.OverPolishMin = pl.OverPolishUM / (p.proc.stages[p.proc.open].rate * factor)
}
