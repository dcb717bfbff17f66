package removal

import (
	"fmt"
	"math"
	"strings"

	"skinstock/mesh/finding"
	"skinstock/offset/recipe"
	"skinstock/region"
)

// lookAround adds the findings of the plan.
func (p *Plan) lookAround() {
	p.assumed()
	p.negative()
	p.outside()
	p.fixedAllowance()
	p.fixedStages()
	p.bathLimits()
}

func (p *Plan) add(code string, sev finding.Severity, remedy, format string, args ...any) {
	p.Findings = append(p.Findings, finding.Finding{Code: code, Severity: sev, Message: fmt.Sprintf(format, args...), Remedy: remedy, Count: 1})
}

// assumed says how much of the recipe nobody vouches for.
func (p *Plan) assumed() {
	a, all := p.Recipe.AssumedValues(), p.Recipe.Values()
	if len(a) == 0 {
		return
	}
	p.add("assumed_value", finding.Warning, "measure coupons and let calibrate write a recipe",
		"%d of the %d values of recipe %s are assumed, not measured", len(a), len(all), p.Recipe.Name)
	p.Findings[len(p.Findings)-1].Count = len(a)
}

// negative reports skins whose stock came out below nothing.
func (p *Plan) negative() {
	for _, a := range region.Skins {
		var area, worst float64
		for _, piece := range p.Part.Areas {
			if piece.Skin != a || piece.AreaMM2 == 0 {
				continue
			}
			pl := p.place(a, angle(a, piece.Theta), p.factor(a).Mean)
			if pl.Negative {
				area += piece.AreaMM2
				worst = math.Min(worst, pl.TakenUM+pl.StandOffUM-pl.OversizeUM+pl.ExtraUM)
			}
		}
		if area > 0 {
			p.add("allowance_negative", finding.Error, "lower oversize_um, or make the part smaller there: it comes out too large",
				"%s: the allowance would be %.1f um; 0 is used on %.0f mm2", a, worst, area)
		}
	}
}

// outside reports surface beyond the rows of the roughness table.
func (p *Plan) outside() {
	var area float64
	for _, a := range p.Part.Areas {
		for _, deg := range angles(a) {
			if p.rough.At(a.Skin, deg).Outside {
				area += a.AreaMM2
				break
			}
		}
	}
	if area > 0 {
		p.add("outside_table", finding.Warning, "measure coupons at the missing inclinations",
			"%.0f mm2 are inclined beyond the rows of the roughness table; the last row stands in", area)
	}
}

// mmLookUM is the allowance in um below which a fixed one looks like millimetres
// where the recipe computes more than ten times as much: no bath is held to 1 um.
const mmLookUM = 1

// fixedAllowance compares fixed values with the computed ones.
func (p *Plan) fixedAllowance() {
	for _, s := range p.Skins {
		if !s.Fixed {
			continue
		}
		// A place is off by its own difference; the worst of the range counts.
		short, over := s.ComputedUM.Max-s.AllowanceUM.Min, s.AllowanceUM.Max-s.ComputedUM.Min
		sev, what := finding.Info, fmt.Sprintf("up to %.1f um too large on this face", math.Max(0, over))
		if short > 1 {
			sev, what = finding.Warning, fmt.Sprintf("up to %.1f um too small on this face", short)
		}
		given := fmt.Sprintf("%.1f", s.AllowanceUM.Mean)
		if s.AllowanceUM.Mean < 1 {
			given = num(s.AllowanceUM.Mean)
		}
		remedy := "leave the fixed value out to use the recipe's"
		if top := s.AllowanceUM.Max; top > 0 && top < mmLookUM && s.ComputedUM.Min >= 10*mmLookUM {
			remedy = fmt.Sprintf("fixed values are in um: give %.4g where %.4g mm is meant, or leave the value out to use the recipe's", 1000*top, top)
		}
		p.add("fixed_allowance", sev, remedy,
			"%s: the fixed allowance of %s um stands in place of the computed %.1f um; by this recipe the part finishes %s", s.Skin, given, s.ComputedUM.Mean, what)
	}
}

// fixedStages reports stages that take more than anything called for.
func (p *Plan) fixedStages() {
	open := &p.proc.stages[p.proc.open]
	if len(p.Stages) > 1 && p.Stages[p.proc.open].TimeMin == 0 {
		p.add("stage_idle", finding.Warning, "shorten the other stages",
			"stage %s has nothing left to take: the other stages take %.1f um, more than any skin calls for", open.name, p.proc.fixed)
	}
}

// coolingFromK is the warming from which the plan speaks of cooling: baths are
// held within some ten degrees (references.md 4.4 gives 60 to 90 C for a bath that is not held).
const coolingFromK = 10

// boilsFromK is the warming beyond which a bath of water boils whatever it
// started from, and a figure in K means nothing.
const boilsFromK = 100

// bathLimits compares the bath sheet with the bath.
func (p *Plan) bathLimits() {
	b, r := p.Bath, p.Recipe.Bath
	if !b.HasCurrent || !b.HasVoltage {
		p.add("bath_incomplete", finding.Info, "give current_density_a_per_cm2 and voltage_v in the recipe",
			"the recipe has no current density or no voltage, so charge, energy or power are missing")
	}
	if b.HasEnvelope && !b.FitsEnvelope {
		p.add("too_large", finding.Error, "use a larger bath, or turn the part",
			"the grown part of %.1f x %.1f x %.1f mm does not fit the bath of %.0f x %.0f x %.0f mm with %.0f mm clearance",
			b.GrownSizeMM[0], b.GrownSizeMM[1], b.GrownSizeMM[2], r.EnvelopeMM[0], r.EnvelopeMM[1], r.EnvelopeMM[2], r.ClearanceMM.Value)
	}
	if b.HasVolume && b.HeatRiseK > coolingFromK {
		what := fmt.Sprintf("warm the bath of %s l by %.0f K", num(r.VolumeL.Value), b.HeatRiseK)
		if b.HeatRiseK > boilsFromK {
			what = fmt.Sprintf("bring the bath of %s l to the boil", num(r.VolumeL.Value))
		}
		p.add("bath_heating", finding.Info, "make sure that the cooling carries it, or treat in steps",
			"%s kWh would %s without cooling", num(b.HeatKWh), what)
	}
	if b.HasLimit && b.LotByCurrent < 1 {
		p.add("over_current", finding.Error, "use a larger rectifier, or a lower current density for a longer time",
			"the part draws %s A and %s kW, more than the rectifier gives%s", num(b.CurrentA), num(b.PowerKW), rectifierLimits(r))
	}
	if b.HasLife && b.LoadingGPerL > 0 && b.PartsLeft < 1 {
		p.add("bath_spent", finding.Error, "change the bath first",
			"the part adds %s g/l to the %s g/l in the bath, which is spent at %s g/l", num(b.LoadingGPerL), num(b.LoadedGPerL), num(r.LifeGPerL.Value))
	}
	if r.RateUMPerMin.Given() && r.Efficiency.Given() && len(r.Stages) == 0 {
		p.efficiencyAgrees(r)
	}
}

// rectifierLimits names the limits that the recipe gives.
func rectifierLimits(r recipe.Bath) string {
	var limits []string
	if r.MaxCurrentA.Given() {
		limits = append(limits, num(r.MaxCurrentA.Value)+" A")
	}
	if r.MaxPowerKW.Given() {
		limits = append(limits, num(r.MaxPowerKW.Value)+" kW")
	}
	return " (" + strings.Join(limits, ", ") + ")"
}

// efficiencyAgrees compares a given rate with a given efficiency.
func (p *Plan) efficiencyAgrees(r recipe.Bath) {
	t := p.proc.stages[0]
	if t.full == 0 {
		return
	}
	implied := t.rate / t.full
	// A quarter is the scatter that coupons of one bath show among themselves.
	if math.Abs(implied/r.Efficiency.Value-1) > 0.25 {
		p.add("efficiency_mismatch", finding.Warning, "weigh coupons: mean depth is mass loss over density and area",
			"the rate of %.3g um/min implies a current efficiency of %.0f %%, the recipe says %.0f %%", t.rate, 100*implied, 100*r.Efficiency.Value)
	}
}
