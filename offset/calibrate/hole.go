package calibrate

import (
	"fmt"
	"math"
	"slices"

	"skinstock/offset/field"
)

// Places in holes tell the polarisation length L: the smaller it is, the faster
// the removal falls with depth.
const (
	// holeFrom is the depth below the mouth, in radii, from which the slowest mode is
	// alone: the next one has fallen to 5 % of its start by then, primary or polarised.
	holeFrom = 1.0
	// holePlaces is how many places beyond the number of holes are needed.
	holePlaces = 3
	// holeSteep is the share of the primary distribution's fall from which a length
	// cannot be told from none, and holeMost the length, in diameters, at which
	// removal hardly falls at all.
	holeSteep = 0.98
	holeMost  = 300
)

// wallLaw is the removal on the wall of a round blind hole at depth z below the
// mouth, but for a factor: the slowest mode, with the condition q L = 1 - phi on
// wall and bottom alike (references.md 6.5, and its reflection from the bottom).
// Without a depth, NaN, the bottom is far away.
func wallLaw(radius, depth, length, z float64) float64 {
	k := field.BoreDecay(radius, length)
	if math.IsNaN(depth) {
		return math.Exp(-k * z)
	}
	// cosh(k(h-z)) + sinh(k(h-z))/(kL), over its leading factor exp(kh) (1 + 1/kL)/2.
	up, down := math.Exp(-k*z), math.Exp(-k*(2*depth-z))
	return up + down*(k*length-1)/(k*length+1)
}

// polarisation fits L and one factor a hole, which stands for time and for the
// current at the mouth.
func (c *calibration) polarisation() {
	if len(c.holes) == 0 {
		return
	}
	var used []Coupon
	var names []string
	near := 0
	for _, k := range c.holes {
		if k.AtDepthMM < holeFrom*k.HoleDiameterMM/2 {
			near++
			continue
		}
		used = append(used, k)
		if !slices.Contains(names, k.ID) {
			names = append(names, k.ID)
		}
	}
	if near > 0 {
		c.note("polarisation length: %d places nearer to the mouth than a radius are left out, where the law of depth does not hold yet", near)
	}
	if len(used) < len(names)+holePlaces {
		c.note("polarisation length: %d places in %d holes a radius and more below the mouth, %d are needed; the base recipe's stays", len(used), len(names), len(names)+holePlaces)
		return
	}
	var diameter float64
	for _, k := range used {
		diameter += k.HoleDiameterMM / float64(len(used))
	}
	start := nearestLength(used, names, diameter)
	if field.BoreDecay(diameter/2, start[0]) > holeSteep*field.BoreDecay(diameter/2, 0) {
		c.note("polarisation length: removal falls with depth as fast as without any polarisation, which says that the length is well below %.2g mm; the base recipe's stays", diameter/20)
		return
	}
	start[0] = math.Log(start[0])
	s, err := fit(depthLaw(used, names), start)
	switch {
	case err != nil:
		c.note("polarisation length: %v; the base recipe's stays", err)
	case math.Exp(s.p[0]) > holeMost*diameter || s.half(0) > math.Log(8):
		c.note("polarisation length: removal falls too little, or scatters too much, over the depths measured; measure a deeper or narrower hole; the base recipe's stays")
	default:
		c.enter(Parameter{Key: "polarisation", Label: "polarisation length", Unit: "mm", Path: "bath.polarisation_mm"}, s.p[0], s.half(0), s.sigma, len(used))
		c.residuals("polarisation", used, s, func(i int) float64 { return used[i].AtDepthMM }, func(i int) float64 { return used[i].HoleRemovalUM },
			func(i int) float64 { return math.Exp(math.Log(used[i].HoleRemovalUM) - s.resid[i]) })
	}
}

// nearestLength goes through lengths, a fifth further each, and returns the one
// with the least mean size of the residuals, mm, and the logarithm of each hole's factor with it.
func nearestLength(used []Coupon, names []string, diameter float64) []float64 {
	var best []float64
	least := math.Inf(1)
	for length := 1e-3 * diameter; length < 2*holeMost*diameter; length *= 1.2 {
		p := []float64{length}
		var sum float64
		for _, n := range names {
			var r []float64
			for _, k := range used {
				if k.ID == n {
					r = append(r, math.Log(k.HoleRemovalUM/wallLaw(k.HoleDiameterMM/2, k.HoleDepthMM, length, k.AtDepthMM)))
				}
			}
			m := middle(r)
			for _, x := range r {
				sum += math.Abs(x - m)
			}
			p = append(p, m)
		}
		if sum < least {
			best, least = p, sum
		}
	}
	return best
}

// depthLaw is the logarithm of the removal as a model of ln L and the logarithm of each hole's factor.
func depthLaw(used []Coupon, names []string) model {
	hole := make([]int, len(used))
	for i, k := range used {
		hole[i] = slices.Index(names, k.ID)
	}
	law := func(k Coupon, p float64) float64 {
		return math.Log(math.Max(1e-300, wallLaw(k.HoleDiameterMM/2, k.HoleDepthMM, math.Exp(math.Max(-20, math.Min(20, p))), k.AtDepthMM)))
	}
	return func(p []float64) ([]float64, *matDense) {
		r, j := make([]float64, len(used)), newDense(len(used), 1+len(names))
		const h = 1e-5 // of a logarithm; central differences err by h^2
		for i, k := range used {
			r[i] = math.Log(k.HoleRemovalUM) - p[1+hole[i]] - law(k, p[0])
			j.Set(i, 0, -(law(k, p[0]+h)-law(k, p[0]-h))/(2*h))
			j.Set(i, 1+hole[i], -1)
		}
		return r, j
	}
}

// checkHoles refuses rows of one name that are not of one hole.
func checkHoles(holes []Coupon) error {
	first := map[string]Coupon{}
	for _, k := range holes {
		o, ok := first[k.ID]
		if !ok {
			first[k.ID] = k
			continue
		}
		same := o.HoleDiameterMM == k.HoleDiameterMM && (o.HoleDepthMM == k.HoleDepthMM || math.IsNaN(o.HoleDepthMM) && math.IsNaN(k.HoleDepthMM))
		if !same {
			return fmt.Errorf("%w: lines %d and %d are both of hole %s and differ in its diameter or depth: give each hole a name of its own", ErrCoupons, o.Line, k.Line, k.ID)
		}
	}
	return nil
}
