package screen

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/region"
)

// run is how far the void between two walls goes in one direction.
type run struct {
	mm   float64
	kind EndKind
}

// between tells whether q lies between walls at +- n w/2.
func (p *part) between(q, n r3.Vector, w float64) bool {
	for _, e := range [2]r3.Vector{n, n.Mul(-1)} {
		h, ok := p.tree.Ray(q, e, 0, 0.6*w)
		if !ok || h.Side > 0 || h.T < 0.4*w || p.normal[h.Facet].Dot(e) > -slotParallel {
			return false
		}
	}
	return true
}

// rough returns about how far the void between walls goes, for finding its middle.
func (p *part) rough(c, n, d r3.Vector, w float64) float64 {
	front, _ := p.look(c, d)
	z := 0.0
	for z+0.5*w < front && p.between(c.Add(d.Mul(z+0.5*w)), n, w) {
		z += 0.5 * w
	}
	return z
}

// middle returns the middle of the void between walls, and whether it is deep
// enough that slotDeep can be met: moved from c by the mean of the ways all round.
func (p *part) middle(c, n r3.Vector, w float64) (r3.Vector, bool) {
	u, v := region.Across(n)
	for range 4 {
		var sum r3.Vector
		least := math.Inf(1)
		for k := range slotWays {
			sin, cos := math.Sincos(math.Pi * (float64(k) + 0.03) / slotWays)
			d := u.Mul(cos).Add(v.Mul(sin))
			a, b := p.rough(c, n, d, w), p.rough(c, n, d.Mul(-1), w)
			sum = sum.Add(d.Mul(a - b))
			least = min(least, a+b)
		}
		if least < (slotDeep-0.5)*w {
			return c, false
		}
		// Half the mean difference of opposite ways is the offset from the middle of a strip.
		if q := c.Add(sum.Mul(1.0 / slotWays)); p.between(q, n, w) {
			c = q
		}
	}
	return c, true
}

// runOn follows the void between walls at c +- n w/2 in the direction d.
func (p *part) runOn(c, n, d r3.Vector, w float64) run {
	front, _ := p.look(c, d)
	z, lost := 0.0, math.Inf(1)
	for z < front {
		next := min(z+0.5*w, front-1e-3*w)
		if next <= z {
			break
		}
		if p.between(c.Add(d.Mul(next)), n, w) {
			z = next
			continue
		}
		// Across the mouth of a hole in the walls, no further than a width.
		if skip := next + 0.7*w; skip < front && p.between(c.Add(d.Mul(skip)), n, w) && p.between(c.Add(d.Mul(skip+0.2*w)), n, w) {
			z = skip
			continue
		}
		lo, hi := z, next
		for range 14 {
			if mid := (lo + hi) / 2; p.between(c.Add(d.Mul(mid)), n, w) {
				lo = mid
			} else {
				hi = mid
			}
		}
		z, lost = lo, hi
		break
	}
	if front-z < 0.6*w { // a floor, or the round end of an obround
		return run{front, Blind}
	}
	if math.IsInf(lost, 1) {
		return run{z, Widens}
	}
	// Walls that draw apart or together are no mouth: at a mouth one of them ends or steps.
	q, still := c.Add(d.Mul(z+0.05*w)), 0
	for _, e := range [2]r3.Vector{n, n.Mul(-1)} {
		if h, ok := p.tree.Ray(q, e, 0, 0.58*w); ok && h.T > 0.42*w {
			still++
		}
	}
	if still < 2 && p.sky(c.Add(d.Mul(z+0.15*w)), d) > 0.05 {
		return run{z, Open}
	}
	return run{z, Widens}
}
