package removal

import (
	"math"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// StairStep returns the profile that layers of thickness t leave on a plane
// inclined by theta degrees to the platform, 0 < theta < 90: a sawtooth of
// height t cos(theta) (references.md 3.1). All lengths in the unit of t.
func StairStep(t, thetaDeg float64) (ra, rq, rz, period float64) {
	sin, cos := math.Sincos(thetaDeg * math.Pi / 180)
	rz = t * cos
	return rz / 4, rz / (2 * math.Sqrt(3)), rz, t / sin
}

// PlateauRa returns Ra of plateaus of height h on a share of the surface (references.md 2).
func PlateauRa(h, share float64) float64 { return 2 * share * (1 - share) * h }

// stairStep computes roughness from layers and powder. It is this program's
// own model, in the spirit of Strano and others (2013; references.md 3.2), who
// found that a term for stuck particles must be added to the steps: sawtooth of
// the layers, particle plateaus whose share rises with the sine of the
// inclination, melt tracks on upward and dross on downward surfaces that fall
// with its cosine; as the textures are independent, they add as root of sum of squares.
type stairStep struct {
	r *recipe.Roughness
	t float64
}

func newStairStep(r *recipe.Recipe) *stairStep {
	return &stairStep{r: &r.Roughness, t: r.Print.LayerUM.Value}
}

func (m *stairStep) At(_ region.Skin, deg float64) Surface {
	s := m.r.StairStep
	theta := math.Min(deg, 180-deg)
	sin, cos := math.Sincos(theta * math.Pi / 180)
	step, period := 0.0, 0.0
	if sin > 0 {
		step, _, _, period = StairStep(m.t, theta)
		step *= passes(period, 1000*s.CutoffMM.Value)
	}
	particles := PlateauRa(s.ParticleUM.Value, s.CoveredWall.Value*sin)
	own, oversize := s.TrackRaUM.Value*cos, 0.0
	if deg > 90 {
		own, oversize = s.DrossRaUM.Value*cos, s.DrossOversizeUM.Value*cos
	}
	ra := math.Sqrt(float64(step*step) + float64(particles*particles) + float64(own*own))
	out := heights(m.r, recipe.Row{RaUM: recipe.AssumedValue(ra), OversizeUM: recipe.AssumedValue(oversize)})
	out.WavelengthUM = 1000 * s.CutoffMM.Value
	if sin > 0 {
		out.WavelengthUM = math.Min(period, out.WavelengthUM)
	}
	return out
}

func (m *stairStep) Continuous() bool { return true }

// passes returns how much of a wavelength a Gaussian profile filter of a
// cut-off leaves in the roughness (ISO 16610-21): half at the cut-off, all of
// what is much shorter. It takes the steps of a nearly flat top, which are too
// long to count as roughness, out without a jump.
func passes(wavelength, cutoff float64) float64 {
	q := cutoff / wavelength
	return 1 - math.Exp2(-q*q)
}
