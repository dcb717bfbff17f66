package recipe

import (
	"fmt"
	"math"
)

func (v *validator) bath() {
	b := v.r.Bath
	if !b.RateUMPerMin.Given() && !v.rateFromCurrent(b) && !v.everyStageHasRate() {
		v.add("bath", "give rate_um_per_min, or current_density_a_per_cm2 with efficiency and material.elements", "nothing says how fast the bath removes")
	}
	v.faraday("bath", b.RateUMPerMin, b.CurrentDensityAPerCM2)
	if b.LifeGPerL.Given() && b.LoadedGPerL.Value >= b.LifeGPerL.Value {
		v.add("bath.loaded_g_per_l", "change the bath, or set it to what was measured", "%s g/l are dissolved, the bath is spent at %s g/l", formatFloat(b.LoadedGPerL.Value), formatFloat(b.LifeGPerL.Value))
	}
	if n := len(b.EnvelopeMM); n > 0 && n != 3 {
		v.add("bath.envelope_mm", "write [length, width, depth]", "%d numbers where 3 are wanted", n)
	}
	v.buildSpace()
	v.surroundings()
	for _, e := range b.EnvelopeMM {
		if !(e > 0 && e <= 100000) {
			v.add("bath.envelope_mm", "usable length, width and depth: more than 0 and at most 100000 mm", "%s mm cannot be", formatFloat(e))
		} else if e <= 2*b.ClearanceMM.Value {
			v.add("bath.clearance_mm", "make it less than half the smallest side of the envelope", "%s mm on both sides leave nothing of %s mm", formatFloat(b.ClearanceMM.Value), formatFloat(e))
			break
		}
	}
}

// buildSpace checks the machine's envelope.
func (v *validator) buildSpace() {
	if n := len(v.r.Print.EnvelopeMM); n > 0 && n != 3 {
		v.add("print.envelope_mm", "write [length, width, height]", "%d numbers where 3 are wanted", n)
	}
	v.within("print.envelope_mm", "usable length, width and height of the build space", v.r.Print.EnvelopeMM, func(x float64) bool { return x > 0 && x <= maxBathMM })
}

// surroundings checks the vessel and the plates of field runs.
func (v *validator) surroundings() {
	b := v.r.Bath
	if n := len(b.VesselMM); n > 0 && n != 3 {
		v.add("bath.vessel_mm", "write [length, width, depth]", "%d numbers where 3 are wanted", n)
	} else if n == 0 && b.FarField == FarVessel {
		v.add("bath.far_field", "give vessel_mm, or write far_field: infinity", "the far field is a vessel without a size")
	}
	v.within("bath.vessel_mm", "inner length, width and depth", b.VesselMM, func(x float64) bool { return x > 0 && x <= maxBathMM })
	for i, c := range b.Cathodes {
		p := fmt.Sprintf("bath.cathodes[%d]", i)
		if len(c.AtMM) != 3 {
			v.add(p+".at_mm", "write [x, y, z]", "%d numbers where 3 are wanted", len(c.AtMM))
		}
		if len(c.SizeMM) != 3 {
			v.add(p+".size_mm", "write the extent along [x, y, z]", "%d numbers where 3 are wanted", len(c.SizeMM))
		}
		v.within(p+".at_mm", "from the middle of the part", c.AtMM, func(x float64) bool { return x >= -maxBathMM && x <= maxBathMM })
		v.within(p+".size_mm", "extent of the plate", c.SizeMM, func(x float64) bool { return x > 0 && x <= maxBathMM })
		if b.FarField == FarVessel && len(b.VesselMM) == 3 && len(c.AtMM) == 3 && len(c.SizeMM) == 3 {
			for k, side := range b.VesselMM {
				if !(2*math.Abs(c.AtMM[k])+c.SizeMM[k] < side) {
					v.add(p, "move it inwards: it must not touch the vessel", "the plate reaches the wall of the vessel along %c", "xyz"[k])
					break
				}
			}
		}
	}
}

// maxBathMM bounds the sizes in a bath, mm.
const maxBathMM = 100000

func (v *validator) within(path, what string, xs []float64, ok func(float64) bool) {
	for _, x := range xs {
		if !ok(x) {
			v.add(path, what+fmt.Sprintf(": at most %d mm", maxBathMM), "%s mm cannot be", formatFloat(x))
			return
		}
	}
}

func (v *validator) rateFromCurrent(b Bath) bool {
	return b.CurrentDensityAPerCM2.Given() && b.Efficiency.Given() && len(v.r.Material.Elements) > 0
}

func (v *validator) everyStageHasRate() bool {
	for _, s := range v.r.Bath.Stages {
		if !s.RateUMPerMin.Given() {
			return false
		}
	}
	return len(v.r.Bath.Stages) > 0
}

// faraday refuses a rate that needs more charge than flows.
func (v *validator) faraday(path string, rate, current Quantity) {
	full, ok := v.r.Material.FullRateUMPerMin(current.Value)
	if !ok || !rate.Given() || !current.Given() {
		return
	}
	if implied := rate.Value / full; implied > 1 {
		v.add(path+".rate_um_per_min", fmt.Sprintf("at this current density at most %.4g um/min dissolve: lower the rate or correct the current density", full),
			"%s um/min at %s A/cm2 needs a current efficiency of %.0f %%, more than 100 %%", formatFloat(rate.Value), formatFloat(current.Value), 100*implied)
	}
}

func (v *validator) stages() {
	stages := v.r.Bath.Stages
	if len(stages) == 0 {
		return
	}
	open, names := 0, map[string]bool{}
	for i, s := range stages {
		p := fmt.Sprintf("bath.stages[%d]", i)
		if s.Name == "" || names[s.Name] {
			v.add(p+".name", "give each stage a name of its own", "stage name %s is empty or given twice", clip(s.Name))
		}
		names[s.Name] = true
		if !s.DepthUM.Given() {
			open++
		}
		if s.FloorRaUM.Given() && i == len(stages)-1 && v.r.Finish.TargetRaUM.Value <= s.FloorRaUM.Value {
			v.add(p+".floor_ra_um", "raise the target above the floor of the last stage", "the last stage does not get below Ra %s um, the target is %s um", formatFloat(s.FloorRaUM.Value), formatFloat(v.r.Finish.TargetRaUM.Value))
		}
		rate, current := s.RateUMPerMin, s.CurrentDensityAPerCM2
		if !rate.Given() {
			rate = v.r.Bath.RateUMPerMin
		}
		if !current.Given() {
			current = v.r.Bath.CurrentDensityAPerCM2
		}
		v.faraday(p, rate, current)
	}
	if open != 1 {
		v.add("bath.stages", "leave depth_um out of the stage that takes the rest, and of no other", "%d stages without depth_um where exactly one is wanted", open)
	}
}
