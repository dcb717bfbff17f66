package removal

import (
	"math"

	"skinstock/region"
)

// FatigueCaution goes with every fatigue figure.
const FatigueCaution = "An indication for ranking surfaces only, never a release: roughness is taken as one shallow defect, and pores opened by the bath, residual stress, hydrogen and alpha case are left out. Test specimens decide."

// surfaceDefect is the factor of the sqrt(area) formula for a defect at the surface.
const surfaceDefect = 1.43

// FatigueLimit returns the stress amplitude in MPa below which a defect at the
// surface does not grow, by Murakami's formula (Murakami and Endo 1994, from
// memory; references.md 8): 1.43 (HV+120)/sqrtArea^(1/6) ((1-R)/2)^(0.226+HV/1e4),
// with the Vickers hardness, the square root of the defect's area in um and the stress ratio.
func FatigueLimit(hv, sqrtAreaUM, ratio float64) float64 {
	return surfaceDefect * (hv + 120) / math.Pow(sqrtAreaUM, 1.0/6) * math.Pow((1-ratio)/2, 0.226+hv*1e-4)
}

// RoughnessDefect returns the square root of the area in um of the defect that
// roughness of a depth and a pitch 2b amounts to (Murakami, from memory;
// references.md 8). From a/2b = 0.195 on it is 0.38 of the pitch; the small
// jump there is the author's. Beyond a/2b = 3, outside his range, the same value stands.
func RoughnessDefect(depthUM, pitchUM float64) float64 {
	x := depthUM / pitchUM
	if x < 0.195 {
		return pitchUM * (2.97*x - 3.51*x*x - 9.74*x*x*x)
	}
	return 0.38 * pitchUM
}

// Fatigue is the indication for one skin.
type Fatigue struct {
	Skin         region.Skin `json:"skin"`
	PitchUM      float64     `json:"pitch_um"`
	BeforeUM     float64     `json:"before_sqrt_area_um"` // equivalent defect as built
	AfterUM      float64     `json:"after_sqrt_area_um"`  // and finished
	BeforeMPa    float64     `json:"before_mpa"`          // amplitude at the stress ratio
	AfterMPa     float64     `json:"after_mpa"`
	Ratio        float64     `json:"ratio"`         // after over before
	SmoothLimit  bool        `json:"smooth_limit"`  // AfterMPa is what smooth metal of this hardness bears
	OutsideRange bool        `json:"outside_range"` // hardness or defect beyond the formula's range
}

// Fatigue returns the indication for each skin whose pitch the recipe knows, at
// a stress ratio (least over greatest stress; -1 for full reversal). It
// returns nil when the recipe has no hardness. Roughness counts with its whole
// height, as built and finished; the pitch stays. Smooth metal bears about
// 1.6 HV in full reversal (Murakami, from memory), which caps both figures.
// Show [FatigueCaution] with it.
func (p *Plan) Fatigue(ratio float64) []Fatigue {
	hv := p.Recipe.Material.HardnessHV
	if !hv.Given() || !(ratio < 1) {
		return nil
	}
	out := []Fatigue{}
	smooth := 1.6 * hv.Value * math.Pow((1-ratio)/2, 0.226+hv.Value*1e-4)
	for _, s := range p.Skins {
		if !(s.WavelengthUM > 0) {
			continue
		}
		f := Fatigue{Skin: s.Skin, PitchUM: s.WavelengthUM}
		f.BeforeUM = RoughnessDefect(s.RzUM, s.WavelengthUM)
		f.AfterUM = RoughnessDefect(s.RzUM*s.FinishedRaUM/s.RaUM, s.WavelengthUM)
		f.BeforeMPa = math.Min(smooth, FatigueLimit(hv.Value, f.BeforeUM, ratio))
		f.AfterMPa = FatigueLimit(hv.Value, f.AfterUM, ratio)
		if f.AfterMPa > smooth {
			f.AfterMPa, f.SmoothLimit = smooth, true
		}
		f.Ratio = f.AfterMPa / f.BeforeMPa
		f.OutsideRange = hv.Value < 70 || hv.Value > 720 || f.BeforeUM > 1000
		out = append(out, f)
	}
	return out
}
