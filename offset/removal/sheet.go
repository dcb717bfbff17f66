package removal

import (
	"fmt"
	"math"
	"strings"

	"skinstock/offset/recipe"
)

// Line is one number of the shop-floor sheet with how it comes about.
type Line struct {
	Key    string        `json:"key"` // stable name
	Label  string        `json:"label"`
	Value  float64       `json:"value"`
	Unit   string        `json:"unit"`
	How    string        `json:"how"`    // the sum with its numbers, so that it can be done again by hand
	Source recipe.Source `json:"source"` // the least trustworthy value in it; empty when only geometry goes in
}

// Sheet is the shop-floor sheet: a group of lines for each skin, each stage and the bath.
type Sheet struct {
	Groups []Group `json:"groups"`
}

// Group is a part of the sheet under one title.
type Group struct {
	Title string `json:"title"`
	Lines []Line `json:"lines"`
}

// num writes a number with four significant digits or all digits before the point.
func num(v float64) string {
	if math.Abs(v) >= 1000 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.4g", v)
}

// Sheet returns the shop-floor sheet of the plan.
func (p *Plan) Sheet() *Sheet {
	s := &Sheet{}
	for _, k := range p.Skins {
		s.Groups = append(s.Groups, p.skinLines(k))
	}
	for i := range p.Stages {
		s.Groups = append(s.Groups, p.stageLines(i))
	}
	s.Groups = append(s.Groups, p.bathLines())
	return s
}

// skinLines are the lines of one skin. Where the skin varies with inclination,
// the sums hold for its area-weighted means.
func (p *Plan) skinLines(k SkinPlan) Group {
	r := p.Recipe
	row := p.rowSource(k.Skin)
	f := r.Finish
	level, called, taken := p.levelSource(k.Skin), p.calledSource(k.Skin), p.takenSource(k.Skin)
	g := Group{Title: k.Skin.String()}
	add := func(key, label, unit string, v float64, src recipe.Source, how string, args ...any) {
		g.Lines = append(g.Lines, Line{key, label, v, unit, fmt.Sprintf(how, args...), src})
	}
	add("area_mm2", "area", "mm2", k.AreaMM2, "", "%d faces", k.Faces)
	add("ra_um", "Ra as built", "um", k.RaUM, row, "%s", p.roughnessHow())
	add("rz_um", "Rz as built", "um", k.RzUM, row, "Rp %s + Rv %s um", num(k.RpUM), num(k.RvUM))
	add("clear_um", "depth to clear valley roots", "um", k.ClearUM, weakest(row, f.Clear.Source), "%s x Rv %s um", num(f.Clear.Value), num(k.RvUM))
	add("level_um", "depth to reach the target", "um", k.LevelUM, level, "%s", p.levelHow(k))
	add("called_for_um", "called for", "um", k.CalledForUM, called, "the larger of %s and %s um", num(k.ClearUM), num(k.LevelUM))
	add("taken_um", "the bath takes", "um", k.TakenUM, taken, "%s", p.takenHow(k))
	add("standoff_um", "stand-off", "um", k.StandOffUM, row, "%s", p.standOffHow())
	add("oversize_um", "oversize as built", "um", k.OversizeUM, row, "recipe")
	if k.ExtraUM != 0 {
		add("extra_um", "extra stock", "um", k.ExtraUM, f.ExtraUM.Source, "recipe")
	}
	if k.Fixed {
		add("allowance_um", "allowance", "um", k.AllowanceUM.Mean, "", "fixed by hand in place of the computed %s um", num(k.ComputedUM.Mean))
	} else {
		add("allowance_um", "allowance", "um", k.AllowanceUM.Mean, weakest(taken, row, f.ExtraUM.Source), "%.1f + %.1f - %.1f + %.1f um", k.TakenUM, k.StandOffUM, k.OversizeUM, k.ExtraUM)
	}
	add("finished_ra_um", "Ra finished", "um", k.FinishedRaUM, weakest(taken, level), "levelling law at %s um; grade %s", num(k.TakenUM), k.FinishedGrade)
	add("over_polish_um", "taken beyond what was called for", "um", k.OverPolishUM, weakest(taken, called), "%s - %s um, %s min", num(k.TakenUM), num(k.CalledForUM), num(k.OverPolishMin))
	return g
}

func (p *Plan) roughnessHow() string {
	switch p.Recipe.Roughness.Model {
	case recipe.ModelTable:
		return "recipe table at the skin's inclinations, mean over area"
	case recipe.ModelStairStep:
		return fmt.Sprintf("layers of %s um and powder at the skin's inclinations, mean over area", num(p.Recipe.Print.LayerUM.Value))
	}
	return "recipe"
}

func (p *Plan) standOffHow() string {
	if p.Recipe.Print.SizeDatum == recipe.DatumMean {
		return "none: the size calibration goes by the mean surface"
	}
	return "Rp: the size calibration touches the peaks"
}

func (p *Plan) levelHow(k SkinPlan) string {
	t := p.proc.stages[0]
	switch {
	case k.LevelUM == 0:
		return "the skin is as smooth as the target already"
	case len(p.proc.stages) > 1:
		return fmt.Sprintf("%d stages one after the other down to Ra %s um", len(p.proc.stages), num(p.proc.target))
	case p.Continuous():
		return fmt.Sprintf("levelling law at each inclination down to Ra %s um, mean over area", num(p.proc.target))
	}
	d0 := p.proc.levellingDepth(&t, Surface{WavelengthUM: k.WavelengthUM})
	return fmt.Sprintf("%s um x ln((%s - %s)/(%s - %s))", num(d0), num(k.RaUM), num(t.floor), num(p.proc.target), num(t.floor))
}

func (p *Plan) takenHow(k SkinPlan) string {
	f := p.factor(k.Skin).Mean
	switch {
	case p.shared == nil:
		return "what was called for: each skin has its own time"
	case len(p.Stages) > 1:
		return fmt.Sprintf("%s over %d stages, local factor %s; %s sets it", num(p.shared.total()), len(p.Stages), num(f), p.Governs)
	}
	return fmt.Sprintf("%s um/min x %s min x local factor %s; %s sets the time", num(p.Stages[0].RateUMPerMin), num(p.TimeMin), num(f), p.Governs)
}

// stageLines are the lines of one stage.
func (p *Plan) stageLines(i int) Group {
	s, t := p.Stages[i], p.proc.stages[i]
	depth := t.depthSource
	if i == p.proc.open {
		depth = p.depthSource()
	}
	minutes := weakest(depth, t.rateSource)
	charge := weakest(minutes, t.currentSource)
	g := Group{Title: "stage " + s.Name}
	add := func(key, label, unit string, v float64, src recipe.Source, how string, args ...any) {
		g.Lines = append(g.Lines, Line{key, label, v, unit, fmt.Sprintf(how, args...), src})
	}
	add("rate_um_per_min", "removal rate", "um/min", s.RateUMPerMin, t.rateSource, "recipe")
	add("depth_um", "depth", "um", s.DepthUM, minutes, "%s um/min x %s min", num(s.RateUMPerMin), num(s.TimeMin))
	add("time_min", "time", "min", s.TimeMin, minutes, "%s um / %s um/min", num(s.DepthUM), num(s.RateUMPerMin))
	if t.current > 0 {
		add("current_a", "current", "A", s.CurrentA, t.currentSource, "%s A/cm2 x %s cm2", num(t.current), num(p.Bath.AreaCM2))
		how := "%s A x %s min / 60"
		if p.shared == nil {
			how += ", less where skins are done sooner"
		}
		add("charge_ah", "charge", "Ah", s.ChargeAh, charge, how, num(s.CurrentA), num(s.TimeMin))
	}
	if t.current > 0 && t.voltage > 0 {
		add("energy_kwh", "energy", "kWh", s.EnergyKWh, weakest(charge, t.voltageSource), "%s Ah x %s V / 1000", num(s.ChargeAh), num(t.voltage))
	}
	if t.full > 0 {
		e, _ := p.Recipe.Material.EquivalentGPerMol()
		add("full_depth_um", "Faraday depth at 100 %", "um", s.FullDepthUM, weakest(charge, materialSource(p.Recipe)),
			"6e5 x %s A/cm2 x %s g/mol / (96485.33 C/mol x %s g/cm3) x %s min", num(t.current), num(e), num(p.Recipe.Material.DensityGPerCM3.Value), num(s.TimeMin))
		add("efficiency_pct", "implied current efficiency", "%", s.EfficiencyPct, weakest(charge, materialSource(p.Recipe)), "%s um / %s um", num(s.DepthUM), num(s.FullDepthUM))
	}
	return g
}

// bathLines are the lines of the bath as a whole.
func (p *Plan) bathLines() Group {
	b, r := p.Bath, p.Recipe
	depth, current, voltage := p.depthSource(), p.currentSource(), p.voltageSource()
	mass := weakest(depth, r.Material.DensityGPerCM3.Source)
	charge := weakest(depth, current)
	energy := weakest(charge, voltage)
	g := Group{Title: "bath"}
	add := func(key, label, unit string, v float64, src recipe.Source, how string, args ...any) {
		g.Lines = append(g.Lines, Line{key, label, v, unit, fmt.Sprintf(how, args...), src})
	}
	add("area_cm2", "wetted area", "cm2", b.AreaCM2, "", "all skins")
	add("time_min", "time, all stages", "min", b.TimeMin, depth, "%s sets it", b.GovernedBy)
	add("mass_removed_g", "metal removed", "g", b.MassRemovedG, mass, "%s um x %s cm2 x %s g/cm3 / 10000", num(b.MeanDepthUM), num(b.AreaCM2), num(r.Material.DensityGPerCM3.Value))
	add("mass_added_g", "metal added by growing", "g", b.MassAddedG, weakest(mass, p.addedSource()), "mean allowance %s um x %s cm2 x %s g/cm3 / 10000",
		num(1e4*b.MassAddedG/(b.AreaCM2*r.Material.DensityGPerCM3.Value)), num(b.AreaCM2), num(r.Material.DensityGPerCM3.Value))
	if b.HasCurrent {
		add("current_a", "highest current", "A", b.CurrentA, current, "%s A/cm2 x %s cm2", num(b.CurrentDensityAPerCM2), num(b.AreaCM2))
		add("charge_ah", "charge", "Ah", b.ChargeAh, charge, "all stages")
		add("hydrogen_l", "hydrogen at the cathode", "l", b.HydrogenL, charge, "%s Ah x 0.4564 l/Ah at 25 C; %s l/h at the highest current", num(b.ChargeAh), num(b.HydrogenLPerH))
	}
	if b.HasCurrent && b.HasVoltage {
		add("power_kw", "highest power", "kW", b.PowerKW, weakest(current, voltage), "%s A x %s V / 1000", num(b.CurrentA), num(b.VoltageV))
		add("energy_kwh", "energy", "kWh", b.EnergyKWh, energy, "all stages; nearly all of it heats the bath")
		if b.HasVolume {
			add("heat_rise_k", "bath warms without cooling by", "K", b.HeatRiseK, weakest(energy, r.Bath.VolumeL.Source), "%s kWh x 3600 / (%s l x 4.18 kJ/(l K), as water)", num(b.HeatKWh), num(r.Bath.VolumeL.Value))
		}
	}
	if b.HasVolume {
		add("loading_g_per_l", "bath loading by this part", "g/l", b.LoadingGPerL, weakest(mass, r.Bath.VolumeL.Source), "%s g / %s l", num(b.MassRemovedG), num(r.Bath.VolumeL.Value))
	}
	if b.HasLife {
		add("parts_left", "parts until the bath is spent", "parts", float64(b.PartsLeft), weakest(mass, r.Bath.VolumeL.Source, r.Bath.LifeGPerL.Source, r.Bath.LoadedGPerL.Source), "(%s - %s) g/l / %s g/l, rounded down", num(r.Bath.LifeGPerL.Value), num(b.LoadedGPerL), num(b.LoadingGPerL))
	}
	if b.HasEnvelope {
		e := r.Bath.EnvelopeMM
		add("lot_by_envelope", "parts that fit side by side", "parts", float64(b.LotByEnvelope), recipe.Assumed, "%s x %s x %s mm in %s x %s x %s mm, %s mm apart",
			num(b.GrownSizeMM[0]), num(b.GrownSizeMM[1]), num(b.GrownSizeMM[2]), num(e[0]), num(e[1]), num(e[2]), num(r.Bath.ClearanceMM.Value))
	}
	if b.HasLimit {
		add("lot_by_current", "parts that the rectifier drives", "parts", float64(b.LotByCurrent), weakest(r.Bath.MaxCurrentA.Source, r.Bath.MaxPowerKW.Source, current, voltage), "%s", p.rectifierHow())
	}
	return g
}

func (p *Plan) rectifierHow() string {
	b, r := p.Bath, p.Recipe.Bath
	var how []string
	if r.MaxCurrentA.Given() {
		how = append(how, fmt.Sprintf("%s A / %s A", num(r.MaxCurrentA.Value), num(b.CurrentA)))
	}
	if r.MaxPowerKW.Given() && b.HasVoltage {
		how = append(how, fmt.Sprintf("%s kW / %s kW", num(r.MaxPowerKW.Value), num(b.PowerKW)))
	}
	return strings.Join(how, ", ") + ", rounded down"
}
