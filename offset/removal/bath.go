package removal

import (
	"math"
	"slices"

	"skinstock/offset/recipe"
)

// HydrogenLPerAh is the cathode hydrogen of an ampere-hour at 25 C and 1 atm,
// in litres: two electrons a molecule, ideal gas (references.md 5).
const HydrogenLPerAh = 3600 / recipe.FaradayCPerMol / 2 * 8.31446261815324 * 298.15 / 101325 * 1000

// waterKJPerLK is the heat capacity of a litre of water, which stands for the electrolyte.
const waterKJPerLK = 4.18

// StagePlan is one stage on the bath sheet. Current and what follows from it
// are 0 when the recipe has no current density, energy when it has no voltage.
type StagePlan struct {
	Name          string  `json:"name"`
	DepthUM       float64 `json:"depth_um"` // where the local factor is 1; the deepest in own exposure
	RateUMPerMin  float64 `json:"rate_um_per_min"`
	TimeMin       float64 `json:"time_min"`
	CurrentA      float64 `json:"current_a"`
	VoltageV      float64 `json:"voltage_v"`
	ChargeAh      float64 `json:"charge_ah"`
	EnergyKWh     float64 `json:"energy_kwh"`
	FullDepthUM   float64 `json:"full_depth_um"`  // Faraday depth at 100 % efficiency
	EfficiencyPct float64 `json:"efficiency_pct"` // that the rate implies
}

// Bath is the bath sheet of one part. Zero stands for what the recipe does not
// give the figures for; HasCurrent and the other flags tell which.
type Bath struct {
	AreaCM2               float64    `json:"area_cm2"`
	TimeMin               float64    `json:"time_min"`
	GovernedBy            string     `json:"governed_by"`
	CurrentA              float64    `json:"current_a"` // highest of the stages
	CurrentDensityAPerCM2 float64    `json:"current_density_a_per_cm2"`
	VoltageV              float64    `json:"voltage_v"`
	PowerKW               float64    `json:"power_kw"`
	ChargeAh              float64    `json:"charge_ah"`
	EnergyKWh             float64    `json:"energy_kwh"`
	HeatKWh               float64    `json:"heat_kwh"`    // nearly all energy ends as heat in the bath
	HeatRiseK             float64    `json:"heat_rise_k"` // of the bath without cooling
	MassRemovedG          float64    `json:"mass_removed_g"`
	MassAddedG            float64    `json:"mass_added_g"`
	MeanDepthUM           float64    `json:"mean_depth_um"`    // area-weighted
	FullDepthUM           float64    `json:"full_depth_um"`    // Faraday depth of the charge at 100 % efficiency
	EfficiencyPct         float64    `json:"efficiency_pct"`   // mean depth over that
	HydrogenL             float64    `json:"hydrogen_l"`       // at 25 C, 1 atm
	HydrogenLPerH         float64    `json:"hydrogen_l_per_h"` // at the highest current
	LoadingGPerL          float64    `json:"loading_g_per_l"`  // this part adds
	LoadedGPerL           float64    `json:"loaded_g_per_l"`   // in the bath before
	PartsLeft             int        `json:"parts_left"`       // the bath's life allows, this one included
	FitsEnvelope          bool       `json:"fits_envelope"`
	GrownSizeMM           [3]float64 `json:"grown_size_mm"`
	LotByEnvelope         int        `json:"lot_by_envelope"` // parts side by side
	LotByCurrent          int        `json:"lot_by_current"`  // parts the rectifier drives at once
	Lot                   int        `json:"lot"`             // parts at once

	HasCurrent, HasVoltage, HasComposition, HasVolume, HasLife, HasEnvelope, HasLimit bool `json:"-"`
}

// stagesAndBath fills in the bath sheet.
func (p *Plan) stagesAndBath() {
	b := &p.Bath
	b.TimeMin, b.GovernedBy = p.TimeMin, p.Governs.String()
	rho := p.Recipe.Material.DensityGPerCM3.Value
	var depth float64
	for _, s := range p.Skins {
		b.AreaCM2 += s.AreaMM2 / 100
		depth += s.TakenUM * s.AreaMM2
		// um x mm2 = 1e-6 cm3
		b.MassRemovedG += 1e-6 * s.TakenUM * s.AreaMM2 * rho
		b.MassAddedG += 1e-6 * s.AllowanceUM.Mean * s.AreaMM2 * rho
	}
	b.MeanDepthUM = depth / (100 * b.AreaCM2)
	p.stages()
	p.electric()
	p.life()
	p.lot()
}

// minutesPerArea returns area-weighted minutes of each stage: the same for all
// surface in shared exposure, each place's own in own exposure.
func (p *Plan) minutesPerArea() (mean, longest []float64) {
	n := len(p.proc.stages)
	mean, longest = make([]float64, n), make([]float64, n)
	if p.shared != nil {
		copy(mean, p.shared.time)
		copy(longest, p.shared.time)
		return mean, longest
	}
	var area float64
	for _, a := range p.Part.Areas {
		if a.AreaMM2 == 0 {
			continue
		}
		f := p.factor(a.Skin).Mean
		s := p.rough.At(a.Skin, angle(a.Skin, a.Theta))
		need, _ := p.proc.needAt(a.Skin, s, f)
		r := p.proc.runTo(need.depth() / f)
		area += a.AreaMM2
		for i, t := range r.time {
			mean[i] += float64(t * a.AreaMM2)
			longest[i] = math.Max(longest[i], t)
		}
	}
	for i := range mean {
		mean[i] /= area
	}
	return mean, longest
}

// stages fills in the stages and adds up their charge and energy.
func (p *Plan) stages() {
	b := &p.Bath
	mean, longest := p.minutesPerArea()
	b.HasCurrent, b.HasVoltage, b.HasComposition = true, true, true
	for i, t := range p.proc.stages {
		s := StagePlan{Name: t.name, RateUMPerMin: t.rate, TimeMin: longest[i], DepthUM: longest[i] * t.rate, VoltageV: t.voltage}
		s.CurrentA = t.current * b.AreaCM2
		s.ChargeAh = s.CurrentA * mean[i] / 60
		s.EnergyKWh = s.ChargeAh * s.VoltageV / 1000
		s.FullDepthUM = t.full * longest[i]
		if t.full > 0 {
			s.EfficiencyPct = 100 * t.rate / t.full
		}
		b.HasCurrent = b.HasCurrent && t.current > 0
		b.HasVoltage = b.HasVoltage && t.voltage > 0
		b.HasComposition = b.HasComposition && t.full > 0
		b.ChargeAh += s.ChargeAh
		b.EnergyKWh += s.EnergyKWh
		b.FullDepthUM += t.full * mean[i]
		p.Stages = append(p.Stages, s)
		if s.CurrentA >= b.CurrentA {
			b.CurrentA, b.CurrentDensityAPerCM2 = s.CurrentA, t.current
		}
		b.VoltageV = math.Max(b.VoltageV, t.voltage)
		b.PowerKW = math.Max(b.PowerKW, s.CurrentA*t.voltage/1000)
	}
}

// electric fills in what follows from charge and energy.
func (p *Plan) electric() {
	b := &p.Bath
	if !b.HasCurrent {
		b.ChargeAh, b.EnergyKWh, b.FullDepthUM, b.CurrentA, b.PowerKW = 0, 0, 0, 0, 0
	}
	if b.FullDepthUM > 0 {
		b.EfficiencyPct = 100 * b.MeanDepthUM / b.FullDepthUM
	}
	b.HydrogenL = HydrogenLPerAh * b.ChargeAh
	b.HydrogenLPerH = HydrogenLPerAh * b.CurrentA
	b.HeatKWh = b.EnergyKWh
	if v := p.Recipe.Bath.VolumeL.Or(0); v > 0 {
		b.HeatRiseK = b.HeatKWh * 3600 / (v * waterKJPerLK)
	}
}

// life fills in the loading of the bath.
func (p *Plan) life() {
	b, r := &p.Bath, p.Recipe.Bath
	b.HasVolume, b.HasLife = r.VolumeL.Given(), r.VolumeL.Given() && r.LifeGPerL.Given()
	b.LoadedGPerL = r.LoadedGPerL.Value
	if !b.HasVolume {
		return
	}
	b.LoadingGPerL = b.MassRemovedG / r.VolumeL.Value
	if b.HasLife && b.LoadingGPerL > 0 {
		// A billionth of slack, so that a life of exactly n parts is n.
		b.PartsLeft = whole((r.LifeGPerL.Value - r.LoadedGPerL.Value) / b.LoadingGPerL)
	}
}

// whole rounds down, with a billionth of slack for sums that should be whole.
func whole(x float64) int {
	return int(math.Min(math.Floor(x*(1+1e-9)), math.MaxInt32))
}

// lot fills in how many parts fit by envelope and by rectifier.
func (p *Plan) lot() {
	b, r := &p.Bath, p.Recipe.Bath
	b.HasEnvelope = len(r.EnvelopeMM) == 3 && p.Part.SizeMM != [3]float64{}
	var most float64
	for _, s := range p.Skins {
		most = math.Max(most, s.AllowanceUM.Max)
	}
	for i, s := range p.Part.SizeMM {
		b.GrownSizeMM[i] = s + 2*most/1000
	}
	limits := []int{}
	if b.HasEnvelope {
		b.LotByEnvelope = lotInBox(b.GrownSizeMM, [3]float64(r.EnvelopeMM), r.ClearanceMM.Value)
		b.FitsEnvelope = b.LotByEnvelope > 0
		limits = append(limits, b.LotByEnvelope)
	}
	if b.HasCurrent && (r.MaxCurrentA.Given() || (r.MaxPowerKW.Given() && b.HasVoltage)) {
		b.HasLimit = true
		n := math.Inf(1)
		if r.MaxCurrentA.Given() {
			n = r.MaxCurrentA.Value / b.CurrentA
		}
		if r.MaxPowerKW.Given() && b.HasVoltage {
			n = math.Min(n, r.MaxPowerKW.Value/b.PowerKW)
		}
		b.LotByCurrent = whole(n)
		limits = append(limits, b.LotByCurrent)
	}
	if len(limits) > 0 {
		b.Lot = slices.Min(limits)
	}
}

// lotInBox returns how many boxes stand in rows in a larger box, a clearance
// from its walls and from each other, over the six ways to turn them square.
func lotInBox(part, box [3]float64, clearance float64) int {
	best := 0
	for _, o := range [...][3]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}} {
		n := 1
		for k := range 3 {
			// n parts and n-1 gaps lie between two wall clearances.
			n *= max(0, whole((box[k]-clearance)/(part[o[k]]+clearance)))
			n = min(n, 1<<20)
		}
		best = max(best, n)
	}
	return best
}
