package field

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

// Balance is the evidence for a solution, from the potential at places where
// the equation was not met by construction.
type Balance struct {
	// Checked places.
	Checked int

	// Potential is the root mean square of what the potential condition misses
	// over the part's area, at potential 1.
	Potential float64

	// Energy is the relative gap between the power that enters, total flux
	// times 1, and the power spent in the bath and the polarisation, the
	// integral of (phi + L q) q. To first order it is the relative error of the
	// capacitance.
	Energy float64

	// Flux is the estimated error of the panels' factors, mean over the area: the
	// panel's mean miss over what its own unit flux puts on it.
	Flux float64

	// Variation is the mean of how far a panel's factor lies from what the planes
	// through its neighbours foretell: what panels of this size do not resolve,
	// as beside sharp edges.
	Variation float64
}

// mostChecked bounds the panels looked at; each costs three potentials or more. The
// figures are means over the area, good to a few percent of themselves.
const mostChecked = 1500

// balance checks evenly spread panels of the part.
func (s *system) balance(ctx context.Context) (Balance, error) {
	var ids []int
	for i := range s.ps {
		if s.ps[i].wall < 0 {
			ids = append(ids, i)
		}
	}
	step := max(1, (len(ids)+mostChecked-1)/mostChecked)
	k := 0
	for i := 0; i < len(ids); i += step {
		ids[k] = ids[i]
		k++
	}
	ids = ids[:k]
	miss := make([]float64, len(ids)) // mean over the panel
	square := make([]float64, len(ids))
	leafOf := s.op.t.leafOf(len(s.ps))
	err := spread(ctx, s.op.workers, len(ids), 16, func(w, lo, hi int) {
		for k := lo; k < hi; k++ {
			p := &s.ps[ids[k]]
			for _, c := range p.checks() {
				r := p.goal - s.op.potential(c.at, leafOf[ids[k]], int32(ids[k]), c.piece, s.q, s.op.scratch[w])
				miss[k] += c.weight * r
				square[k] += c.weight * r * r
			}
		}
	})
	if err != nil {
		return Balance{}, err
	}
	b := Balance{Checked: len(ids)}
	var area, total, spent, flux float64
	for k, i := range ids {
		p := &s.ps[i]
		area += p.area
		total += p.charge * p.area * s.q[i]
		spent += p.charge * p.area * s.q[i] * miss[k]
		b.Potential += p.area * square[k]
		own := 0.28*p.charge*math.Sqrt(p.area) + p.length/2 // mean potential of a compact patch on itself, over 4 pi
		flux += p.area * math.Abs(miss[k]/own)
	}
	b.Potential = math.Sqrt(b.Potential / area)
	b.Energy = spent / total
	b.Flux = flux / math.Abs(total)
	return b, nil
}

// checks spreads places over a panel, others than its tests: three on a single
// facet, else more groups than the tests have.
func (p *panel) checks() []check {
	if len(p.pieces) > 2 {
		return middles(p.pieces, mostTests+4)
	}
	var out []check
	for i := range p.pieces {
		q := &p.pieces[i]
		for _, n := range rule3 {
			out = append(out, check{n.at(q.a, q.b, q.c), n.weight * q.areaVector().Norm() / p.area, i})
		}
	}
	return out
}

// leafOf returns the leaf of every panel.
func (t *tree) leafOf(n int) []int32 {
	out := make([]int32, n)
	for _, l := range t.leaves {
		for i := t.nodes[l].lo; i < t.nodes[l].hi; i++ {
			out[i] = l
		}
	}
	return out
}

// potential is the left-hand side of the equation at x, on the given piece of
// panel i in leaf l; the last apply must have been on q.
func (o *operator) potential(x r3.Vector, l, i int32, onPiece int, q []float64, r harmonic) float64 {
	p := o.degree
	r.regular(p, x.Sub(o.t.nodes[l].centre))
	var sum float64
	for k, v := range o.local[l].re {
		sum += v*r.re[k] + o.local[l].im[k]*r.im[k]
	}
	sum *= invFourPi
	for _, s := range o.t.near[l] {
		for j := o.t.nodes[s].lo; j < o.t.nodes[s].hi; j++ {
			own := -1
			if j == i {
				own = onPiece
			}
			sum += q[j] * o.ps[j].entry(x, own)
		}
	}
	return sum + o.ps[i].length/2*q[i]
}
