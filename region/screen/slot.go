package screen

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
)

// Bounds of what counts as a slot.
const (
	slotParallel = 0.97  // cosine of the angle between its walls' normals: 14 degrees, a draft of 7 a side
	slotSame     = 0.15  // share by which the width may differ within a slot
	slotFlat     = 0.995 // mean cosine of the walls' normals to the slot's: 6 degrees
	slotDeep     = 0.5   // least depth in widths
	slotLong     = 0.9   // least length in widths: a square hole has 1
	slotWays     = 8     // directions in the plane between the walls in which its bounds are looked for
)

// Slot is a void between two facing walls: a trench, a slot, a non-round hole.
type Slot struct {
	At       r3.Vector // middle
	Across   r3.Vector // unit, from wall to wall
	Axis     r3.Vector // unit, along the depth, out of the first open end
	WidthMM  float64   // mean
	MinMM    float64   // narrowest
	DepthMM  float64
	LengthMM float64 // along the walls, across the depth
	Curved   bool    // the length is taken from the walls' area
	OpenEnds int     // ends of the depth that are open, 1 or 2
	Reach    Reach

	shut bool // both ends of the length are closed
}

// findSlots finds the slots that are no bores, in order of their facets.
func (p *part) findSlots(ctx context.Context) ([]Slot, error) {
	heads := p.slotHeads()
	// The narrower of two pairs of walls is what the bath has to get through.
	// Of nearly equal ones those between the best parallel walls come first.
	type rank struct{ width, skew float64 }
	ranks := map[int32]rank{}
	for _, h := range heads {
		s := &p.samples[h]
		ranks[h] = rank{math.Round(10 * math.Log(s.out)), math.Round(500 * p.normal[s.facet].Dot(p.normal[s.outFacet]))}
	}
	slices.SortStableFunc(heads, func(a, b int32) int {
		x, y := ranks[a], ranks[b]
		return cmp.Or(cmp.Compare(x.width, y.width), cmp.Compare(x.skew, y.skew), cmp.Compare(p.samples[a].out, p.samples[b].out))
	})
	type placed struct {
		Slot
		facet int32
	}
	var all []placed
	const chunk = 512
	var found [chunk]Slot
	for len(heads) > 0 {
		n := min(chunk, len(heads))
		err := p.each(ctx, n, func(i int) {
			found[i] = Slot{}
			if s := &p.samples[heads[i]]; !p.claimed[s.facet] && !p.claimed[s.outFacet] {
				found[i] = p.trySlot(s)
			}
		})
		if err != nil {
			return nil, err
		}
		for i := range n {
			s := &p.samples[heads[i]]
			if found[i].DepthMM == 0 || p.claimed[s.facet] || p.claimed[s.outFacet] {
				continue
			}
			if sl, first, ok := p.fill(found[i], heads[i]); ok {
				all = append(all, placed{sl, first})
			}
		}
		heads = heads[n:]
	}
	slices.SortStableFunc(all, func(a, b placed) int { return cmp.Compare(a.facet, b.facet) })
	var out []Slot
	for i := range all {
		p.reachSlot(&all[i].Slot)
		out = append(out, all[i].Slot)
	}
	return out, nil
}

// slotWidth returns the width of the void in front of a sample when a parallel wall faces it.
// What is narrower than the least gap is told as a gap.
func (p *part) slotWidth(s *sample) (float64, bool) {
	// Between two bodies there is a gap, no slot.
	if s.outFacet < 0 || s.out < 100*p.eps || p.shellOf[s.facet] != p.shellOf[s.outFacet] || p.hollow[s.facet] || p.claimed[s.facet] || p.claimed[s.outFacet] {
		return 0, false
	}
	return s.out, s.out >= p.lim.MinGapMM && p.facing(s, slotParallel)
}

// slotHeads picks one sample of those whose rays have about the same middle and length.
func (p *part) slotHeads() []int32 {
	best := map[seedKey]int{}
	var heads []int32
	for i := range p.samples {
		s := &p.samples[i]
		w, ok := p.slotWidth(s)
		if !ok || p.sliver(s.facet) {
			continue
		}
		k := keyOf(s.at.Add(p.normal[s.facet].Mul(w/2)), 2*w)
		if h, ok := best[k]; !ok {
			best[k] = len(heads)
			heads = append(heads, int32(i))
		} else if s.area > p.samples[heads[h]].area {
			heads[h] = int32(i)
		}
	}
	return heads
}

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
	u, v := across(n)
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

// trySlot measures the slot around the middle of a sample's ray; its depth is 0 when there is none.
func (p *part) trySlot(s *sample) Slot {
	n := p.normal[s.facet]
	w := s.out
	c, ok := p.middle(s.at.Add(n.Mul(w/2)), n, w)
	if !ok {
		return Slot{}
	}
	u, v := across(n)
	way := func(t float64) r3.Vector {
		sin, cos := math.Sincos(t)
		return u.Mul(cos).Add(v.Mul(sin))
	}
	both := func(t float64) (a, b run) {
		d := way(t)
		return p.runOn(c, n, d, w), p.runOn(c, n, d.Mul(-1), w)
	}
	best, least := 0.0, math.Inf(1)
	for k := range slotWays {
		t := math.Pi * (float64(k) + 0.03) / slotWays
		if a, b := both(t); (a.kind == Open || b.kind == Open) && a.mm+b.mm < least {
			best, least = t, a.mm+b.mm
		}
	}
	if math.IsInf(least, 1) {
		return Slot{}
	}
	total := func(t float64) float64 {
		a, b := both(t)
		if a.kind != Open && b.kind != Open {
			return math.Inf(1)
		}
		return a.mm + b.mm
	}
	lo, hi := best-math.Pi/slotWays, best+math.Pi/slotWays
	for range 12 {
		m1, m2 := lo+(hi-lo)/3, hi-(hi-lo)/3
		if total(m1) < total(m2) {
			hi = m2
		} else {
			lo = m1
		}
	}
	t := (lo + hi) / 2
	a, b := both(t)
	if a.kind != Open && b.kind != Open {
		return Slot{}
	}
	sl := Slot{Across: n, Axis: way(t), WidthMM: w, DepthMM: a.mm + b.mm, At: c.Add(way(t).Mul((a.mm - b.mm) / 2))}
	if a.kind != Open {
		sl.Axis = sl.Axis.Mul(-1)
	}
	for _, r := range [2]run{a, b} {
		if r.kind == Open {
			sl.OpenEnds++
		}
	}
	e := n.Cross(sl.Axis)
	left, right := p.runOn(sl.At, n, e, w), p.runOn(sl.At, n, e.Mul(-1), w)
	sl.LengthMM = left.mm + right.mm
	sl.shut = left.kind == Blind && right.kind == Blind
	sl.At = sl.At.Add(e.Mul((left.mm - right.mm) / 2))
	if sl.DepthMM < slotDeep*w {
		return Slot{}
	}
	return sl
}

// fill spreads a slot over the facets that hang together or lie opposite each
// other and are as far apart, claims them, and takes mean width and length from them.
func (p *part) fill(sl Slot, head int32) (Slot, int32, bool) {
	same := func(i int32) (w float64, ok bool) {
		if w, ok = p.slotWidth(&p.samples[i]); !ok {
			return w, false
		}
		return w, math.Abs(w-sl.WidthMM) <= slotSame*sl.WidthMM
	}
	s := &p.samples[head]
	list := []int32{s.facet}
	seen := map[int32]bool{s.facet: true}
	visit := func(f int32) {
		if !seen[f] {
			seen[f] = true
			list = append(list, f)
		}
	}
	var area, volume, flat float64
	narrow := math.Inf(1)
	var walls []int32
	for k := 0; k < len(list); k++ {
		f := list[k]
		wall := false
		for i := p.first[f]; i < p.first[f+1]; i++ {
			if w, ok := same(i); ok {
				wall = true
				area += p.samples[i].area
				volume += p.samples[i].area * w
				flat += p.samples[i].area * math.Abs(p.normal[f].Dot(sl.Across))
				narrow = min(narrow, w)
				visit(p.samples[i].outFacet)
			}
		}
		if !wall {
			continue
		}
		walls = append(walls, f)
		for e := range int32(3) {
			if t := p.topo.Twin[3*f+e]; t >= 0 && p.normal[f].Dot(p.normal[t/3]) > 0.8 { // not round a corner
				visit(t / 3)
			}
		}
	}
	if area == 0 {
		return sl, 0, false
	}
	sl.WidthMM, sl.MinMM = volume/area, narrow
	byArea := area / (2 * sl.DepthMM)
	if byArea < 0.6*(sl.LengthMM-sl.WidthMM) || byArea < 0.25*sl.WidthMM { // the round ends of an obround are as long as its width
		return sl, 0, false // patches that happen to face each other
	}
	if byArea <= 1.5*sl.LengthMM && flat < slotFlat*area {
		return sl, 0, false // curved walls that come near each other, as in the pores of a lattice
	}
	if byArea > 1.5*sl.LengthMM {
		if sl.shut {
			return sl, 0, false // the walls go on where the slot does not: a winding channel
		}
		sl.LengthMM, sl.Curved = byArea, true
	}
	if sl.LengthMM < slotLong*sl.WidthMM {
		return sl, 0, false
	}
	for _, f := range walls {
		p.claimed[f] = true
	}
	p.claimEnds(&sl)
	return sl, slices.Min(walls), true
}

// claimEnds claims the facets that close a slot's length, so that they make no second slot.
func (p *part) claimEnds(sl *Slot) {
	if sl.Curved {
		return
	}
	e := sl.Across.Cross(sl.Axis)
	for _, d := range [2]r3.Vector{e, e.Mul(-1)} {
		from := sl.At.Add(d.Mul(sl.LengthMM / 2))
		r := 0.55 * math.Hypot(sl.WidthMM, sl.DepthMM)
		p.tree.VisitBall(from, r, func(f int) bool {
			a, b, c := p.m.Triangle(f)
			q := a.Add(b).Add(c).Mul(1.0 / 3).Sub(sl.At)
			if p.normal[f].Dot(d) < -0.15 && math.Abs(p.normal[f].Dot(sl.Axis)) < 0.3 &&
				math.Abs(q.Dot(sl.Across)) < 0.55*sl.WidthMM && math.Abs(q.Dot(sl.Axis)) < 0.52*sl.DepthMM &&
				math.Abs(q.Dot(e)) < 0.52*sl.LengthMM {
				p.claimed[f] = true
			}
			return true
		})
	}
}

// reachSlot fills in how far the bath gets into a slot.
func (p *part) reachSlot(s *Slot) {
	l := p.lim
	s.Reach = Reach{Model: l.model()}
	reach, marginal := l.BoreReachDiameters, l.BoreMarginalDiameters
	far := math.Inf(1)
	if s.OpenEnds == 2 {
		far = 0
		reach *= l.ThroughFactor / 2
		marginal *= l.ThroughFactor / 2
	}
	fade := math.Log(1 / l.ShieldedFail)
	s.Reach.depths(s.DepthMM, 0, far, reach, marginal, fade/decaySlot(s.WidthMM, l.PolarisationMM), fade/decaySlot(s.WidthMM, 0), func(float64) float64 { return s.WidthMM }, func(float64) float64 { return 2 * s.LengthMM })
}

func (s *Slot) name() string {
	what := "slot"
	if s.OpenEnds == 2 {
		what = "through slot"
	}
	return fmt.Sprintf("%s %.2f mm wide, %.2f mm deep, %.1f mm long", what, s.WidthMM, s.DepthMM, s.LengthMM)
}

// slotFindings says which slots the bath does not reach, like ones together.
func (p *part) slotFindings(slots []Slot) []finding.Finding {
	type kind struct{ w, d, open int }
	index := map[kind]int{}
	var out []finding.Finding
	for i := range slots {
		s := &slots[i]
		if s.Reach.UnreachedMM <= 0.02*s.DepthMM {
			continue
		}
		k := kind{int(math.Round(20 * math.Log(s.WidthMM))), int(math.Round(20 * math.Log(s.DepthMM))), s.OpenEnds}
		if j, ok := index[k]; ok {
			out[j].Count++
			continue
		}
		index[k] = len(out)
		at := s.At
		f := finding.Finding{
			Code: "slot_unreached", Severity: finding.Warning, At: &at, SizeMM: s.WidthMM, Count: 1,
			Message: fmt.Sprintf("%s: %s", s.name(), s.Reach.says(p.lim, "widths", s.OpenEnds == 2, s.WidthMM)),
			Remedy:  "widen it, open it at both ends, or machine it after the bath",
		}
		if s.Reach.slight(s.DepthMM) {
			f.Severity = finding.Info
		}
		if s.OpenEnds == 2 {
			f.Remedy = "widen it, use an inner cathode or forced flow, or machine it after the bath"
		}
		out = append(out, f)
	}
	return limited(out)
}
