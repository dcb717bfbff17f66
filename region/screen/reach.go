package screen

import (
	"fmt"
	"math"
)

// decayBore returns the rate at which the current falls in a round hole, per
// diameter of depth: twice the root x of x J1(x) = (R/L) J0(x), which tends to
// the first zero of J0, 2.404826, for the primary field (references.md
// section 6.5).
func decayBore(diameter, polarisation float64) float64 {
	b := diameter / 2 / polarisation // +Inf for the primary field
	return 2 * root(math.J0, math.J1, b, 2.404825557695773)
}

// decaySlot returns the same per width of a slot: twice the root y of
// y tan y = (w/2)/L, which tends to pi/2 for the primary field.
func decaySlot(width, polarisation float64) float64 {
	return 2 * root(math.Cos, math.Sin, width/2/polarisation, math.Pi/2)
}

// root solves x g(x) = b f(x) for the smallest positive x, which lies below
// the first zero of f.
func root(f, g func(float64) float64, b, zero float64) float64 {
	if math.IsInf(b, 1) || math.IsNaN(b) {
		return zero
	}
	lo, hi := 0.0, zero
	for range 60 {
		x := (lo + hi) / 2
		if x*g(x) < b*f(x) {
			lo = x
		} else {
			hi = x
		}
	}
	return (lo + hi) / 2
}

// model names the field that a reach was reckoned with.
func (l Limits) model() string {
	if l.PolarisationMM > 0 {
		return fmt.Sprintf("linear polarisation of %.3g mm, leading mode", l.PolarisationMM)
	}
	return "primary field, leading mode"
}

// depths integrates along a hole: way is its length, width its local width,
// from0 and from1 how deep its ends lie, +Inf for a closed one. The limits are
// per end, in widths.
func (r *Reach) depths(way, from0, from1, reach, marginal, field, primary float64, width func(s float64) float64, perimeter func(w float64) float64) {
	const steps = 256
	ds := way / steps
	var n [steps]float64 // widths from the first end
	var total float64
	for i := range n {
		d := ds / width((float64(i)+0.5)*ds)
		n[i] = total + d/2
		total += d
	}
	for i := range n {
		deep := min(from0+n[i], from1+total-n[i])
		w := width((float64(i) + 0.5) * ds)
		// The share of this piece within a limit, so that lengths do not come in steps.
		within := func(limit float64) float64 {
			return min(max((limit-deep)/(ds/w)+0.5, 0), 1)
		}
		r.LimitMM += ds * within(reach)
		r.MarginalMM += ds * within(marginal)
		r.FieldMM += ds * within(field)
		r.PrimaryMM += ds * within(primary)
		r.UnreachedMM2 += ds * (1 - within(reach)) * perimeter(w)
	}
	r.UnreachedMM = way - r.LimitMM
	if r.UnreachedMM < 1e-9*way {
		r.UnreachedMM, r.UnreachedMM2 = 0, 0
	}
}

// reachBore fills in how far the bath gets into a hole.
func (p *part) reachBore(b *Bore) {
	l := p.lim
	through := 1.0
	if b.OpenEnds == 2 {
		through = l.ThroughFactor / 2 // from each end
	}
	b.Reach = Reach{Model: l.model()}
	from0, from1 := b.Ends[0].Diameters, b.Ends[1].Diameters
	reach, marginal := l.BoreReachDiameters*through, l.BoreMarginalDiameters*through
	// Perforations hardly deeper than wide are treated like the sheet they are in.
	if b.MinDiameterMM < 0.995*l.MinBoreMM && b.DepthMM > 0.5*float64(max(b.OpenEnds, 1))*b.DiameterMM {
		b.Reach.TooNarrow = true
		reach, marginal = 0, 0
	}
	far := math.Log(1 / l.ShieldedFail)
	b.Reach.depths(b.DepthMM, from0, from1, reach, marginal, far/decayBore(b.DiameterMM, l.PolarisationMM), far/decayBore(b.DiameterMM, 0), b.widthAt, func(w float64) float64 { return math.Pi * w })
}

// reachSlot fills in how far the bath gets into a slot.
func (p *part) reachSlot(s *Slot) {
	l := p.lim
	s.Reach = Reach{Model: l.model()}
	reach, marginal := l.BoreReachDiameters, l.BoreMarginalDiameters
	if s.OpenEnds == 2 {
		reach *= l.ThroughFactor / 2
		marginal *= l.ThroughFactor / 2
	}
	fade := math.Log(1 / l.ShieldedFail)
	s.Reach.depths(s.DepthMM, s.ends[0].Diameters, s.ends[1].Diameters, reach, marginal, fade/decaySlot(s.WidthMM, l.PolarisationMM), fade/decaySlot(s.WidthMM, 0), func(float64) float64 { return s.WidthMM }, func(float64) float64 { return 2 * s.LengthMM })
}

// slight tells whether hardly anything is left: less than a tenth of the depth
// beyond the limit, and the field gets to all of it.
func (r *Reach) slight(depth float64) bool {
	return !r.TooNarrow && r.UnreachedMM < 0.1*depth && r.FieldMM > 0.999*depth
}

// says tells how far the bath gets, by both models.
func (r *Reach) says(l Limits, unit string, through bool, width float64) string {
	reach := l.BoreReachDiameters
	sides := ""
	if through {
		reach *= l.ThroughFactor
		sides = ", both ends together"
	}
	var rule string
	if r.TooNarrow {
		rule = fmt.Sprintf("narrower than the %.3g mm that a bath without inner cathode treats", l.MinBoreMM)
	} else {
		rule = fmt.Sprintf("the recipe's limit of %.3g %s%s treats %.2f mm", reach, unit, sides, r.LimitMM)
	}
	field := fmt.Sprintf("by the %s, %.2f mm get %.0f %% of the mouth's current or more", r.Model, r.FieldMM, 100*l.ShieldedFail)
	if l.PolarisationMM > 0 {
		field += fmt.Sprintf(", %.2f mm without polarisation", r.PrimaryMM)
	}
	return fmt.Sprintf("%s, %.2f mm (%.0f mm2) stay as printed; %s", rule, r.UnreachedMM, r.UnreachedMM2, field)
}
