package calibrate

import (
	"fmt"
	"math"
	"slices"
)

// group is the coupons of one side and inclination.
type group struct {
	down    bool
	deg     float64
	coupons []Coupon
	ra      Parameter
	rz      float64 // middle of the measured ones, NaN without any
}

// sameAngle is how far apart inclinations may be that count as one, in degrees.
const sameAngle = 0.5

// group sorts the coupons by side and inclination. Walls have no side.
func (c *calibration) group() []*group {
	sorted := slices.Clone(c.coupons)
	slices.SortStableFunc(sorted, func(a, b Coupon) int {
		if x, y := signed(a), signed(b); x != y {
			if x < y {
				return -1
			}
			return 1
		}
		return a.Line - b.Line
	})
	var out []*group
	for _, k := range sorted {
		n := len(out)
		if n == 0 || math.Abs(signed(out[n-1].coupons[0])-signed(k)) > sameAngle {
			out = append(out, &group{down: signed(k) > 90})
			n++
		}
		g := out[n-1]
		g.coupons = append(g.coupons, k)
	}
	for _, g := range out {
		var sum float64
		var rz []float64
		for _, k := range g.coupons {
			sum += k.InclinationDeg
			if k.RzBeforeUM > 0 {
				rz = append(rz, k.RzBeforeUM)
			}
		}
		g.deg = math.Round(1e6*sum/float64(len(g.coupons))) / 1e6
		g.rz = math.NaN()
		if len(rz) > 0 {
			g.rz = middle(rz)
		}
	}
	return out
}

// signed returns the angle between face and build direction: 0 flat top, 90 wall, 180 ceiling.
func signed(k Coupon) float64 {
	if k.Down {
		return 180 - k.InclinationDeg
	}
	return k.InclinationDeg
}

// roughness fits a middle Ra as built for each group; the scatter, as a share,
// is that of all groups together.
func (c *calibration) roughness() []*group {
	groups := c.group()
	var used []Coupon
	var of []int
	start := make([]float64, len(groups))
	for g, gr := range groups {
		y := make([]float64, len(gr.coupons))
		for i, k := range gr.coupons {
			used, of = append(used, k), append(of, g)
			y[i] = k.RaBeforeUM
		}
		start[g] = math.Log(middle(y))
	}
	if len(groups) == 0 || len(used) < len(groups)+3 {
		c.note("roughness as built: %d coupons at %d inclinations say nothing about scatter, at least %d are needed; the base recipe's stays", len(used), len(groups), len(groups)+3)
		return nil
	}
	s, err := fit(func(p []float64) ([]float64, *matDense) {
		r, j := make([]float64, len(used)), newDense(len(used), len(groups))
		for i, k := range used {
			r[i] = math.Log(k.RaBeforeUM) - p[of[i]]
			j.Set(i, of[i], -1)
		}
		return r, j
	}, start)
	if err != nil {
		c.note("roughness as built: %v; the base recipe's stays", err)
		return nil
	}
	for g, gr := range groups {
		side := "up"
		if gr.down {
			side = "down"
		}
		c.enter(Parameter{Key: "ra", Label: fmt.Sprintf("Ra as built, %s %g deg", side, gr.deg), Unit: "um"}, s.p[g], s.half(g), s.sigma, len(gr.coupons))
		gr.ra = c.res.Parameters[len(c.res.Parameters)-1]
	}
	c.residuals("roughness", used, s, func(i int) float64 {
		if used[i].Down {
			return -used[i].InclinationDeg
		}
		return used[i].InclinationDeg
	}, func(i int) float64 { return used[i].RaBeforeUM }, func(i int) float64 { return math.Exp(s.p[of[i]]) })
	return groups
}
