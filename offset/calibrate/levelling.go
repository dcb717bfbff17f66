package calibrate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

type matDense = mat.Dense

func newDense(n, p int) *matDense { return mat.NewDense(n, p, nil) }

// levelling fits depth and floor of Ra = Rf + (Ra0 - Rf) exp(-d/d0) (references.md 4.2).
func (c *calibration) levelling() {
	var used []Coupon
	var depth []float64
	for _, k := range c.coupons {
		if d := c.depthUM(k); d > 0 && k.RaAfterUM > 0 {
			used, depth = append(used, k), append(depth, d)
		}
	}
	const need = 4
	if len(used) < need {
		c.note("levelling: %d coupons with Ra after and a depth, %d are needed; depth and floor of the base recipe stay", len(used), need)
		return
	}
	s := c.bestStart(used, depth)
	withFloor := s != nil
	if !withFloor {
		s = c.depthOnly(used, depth)
		if s == nil {
			c.note("levelling: roughness does not fall with depth on these coupons; depth and floor of the base recipe stay")
			return
		}
		c.note("floor: no coupon was treated long enough to show it; the base recipe's %.3g um stays", c.base.Finish.FloorRaUM.Value)
	}
	d0, floor := math.Exp(s.p[0]), c.base.Finish.FloorRaUM.Value
	c.enter(Parameter{Key: "levelling_depth", Label: "levelling depth", Unit: "um", Path: "finish.levelling.depth_um"}, s.p[0], s.half(0), s.sigma, len(used))
	if withFloor {
		floor = math.Exp(s.p[1])
		c.enter(Parameter{Key: "floor_ra", Label: "floor of Ra", Unit: "um", Path: "finish.floor_ra_um"}, s.p[1], s.half(1), s.sigma, len(used))
	}
	c.residuals("levelling", used, s, func(i int) float64 { return depth[i] }, func(i int) float64 { return used[i].RaAfterUM },
		func(i int) float64 { return floor + (used[i].RaBeforeUM-floor)*math.Exp(-depth[i]/d0) })
}

// bestStart fits depth and floor from several starts, nil when the floor is not determined.
func (c *calibration) bestStart(used []Coupon, depth []float64) *solution {
	least := math.Inf(1)
	for _, k := range used {
		least = math.Min(least, k.RaAfterUM)
	}
	var best *solution
	for _, d0 := range []float64{10, 30, 90, 270} {
		for _, f := range []float64{0.3, 0.9} {
			s, err := fit(lawOf(used, depth, math.NaN()), []float64{math.Log(d0), math.Log(f * least)})
			if err != nil || s.p[0] < -20 || s.p[0] > 20 {
				continue
			}
			if best == nil || s.cost < best.cost {
				best = s
			}
		}
	}
	// An interval of the floor that spans a factor of 16 and more is no measurement.
	if best == nil || best.half(1) > math.Log(4) || math.Exp(best.p[1]) < 1e-3*least {
		return nil
	}
	return best
}

// depthOnly fits the depth with the floor of the base recipe.
func (c *calibration) depthOnly(used []Coupon, depth []float64) *solution {
	floor := c.base.Finish.FloorRaUM.Value
	for _, k := range used {
		if k.RaBeforeUM <= floor {
			return nil
		}
	}
	var best *solution
	for _, d0 := range []float64{10, 30, 90, 270} {
		s, err := fit(lawOf(used, depth, floor), []float64{math.Log(d0)})
		if err == nil && (best == nil || s.cost < best.cost) {
			best = s
		}
	}
	if best == nil || best.half(0) > math.Log(4) {
		return nil
	}
	return best
}

// lawOf is the levelling law as a model of ln d0 and, when the floor is NaN, ln
// Rf. Ra before, Ra after and depth all scatter by the same share s, so that
// ln(after) - ln(law) scatters by s sqrt(1 + A^2 + B^2) with A and B the
// sensitivities of ln(law) to the two others (effective variance; Orear, Am. J.
// Phys. 50 (1982) 912). Residuals are divided by the root. A and B depend on
// the parameters, and the derivatives must know it, or the fit is drawn as
// plain least squares is by errors in x: so they are taken of the whole.
func lawOf(used []Coupon, depth []float64, floor float64) model {
	np := 2
	if !math.IsNaN(floor) {
		np = 1
	}
	resid := func(p []float64) []float64 {
		d0, rf := math.Exp(p[0]), floor
		if np == 2 {
			rf = math.Exp(p[1])
		}
		r := make([]float64, len(used))
		for i, k := range used {
			e := math.Exp(-depth[i] / d0)
			m := rf + (k.RaBeforeUM-rf)*e
			if !(m > 0) {
				m = 1e-9 // a floor above the start: far off, and the step is halved
			}
			a := k.RaBeforeUM * e / m
			b := (k.RaBeforeUM - rf) * e * depth[i] / d0 / m
			r[i] = (math.Log(k.RaAfterUM) - math.Log(m)) / math.Sqrt(1+a*a+b*b)
		}
		return r
	}
	return func(p []float64) ([]float64, *matDense) {
		j := newDense(len(used), np)
		for k := range np {
			const h = 1e-5 // of a logarithm; central differences err by h^2
			q := slices.Clone(p)
			q[k] = p[k] + h
			hi := resid(q)
			q[k] = p[k] - h
			lo := resid(q)
			for i := range hi {
				j.Set(i, k, (hi[i]-lo[i])/(2*h))
			}
		}
		return resid(p), j
	}
}
