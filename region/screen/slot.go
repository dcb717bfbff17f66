package screen

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/region"
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
	OpenEnds int     // ends of the depth that lead to the bath, straight or through other holes
	Reach    Reach

	shut bool   // both ends of the length are closed
	ends [2]End // of the depth; the first is where Axis points to
}

// findSlots finds the slots that are no bores, in order of their facets.
func (p *part) findSlots(ctx context.Context) ([]Slot, error) {
	heads := p.heads(func(s *sample) (float64, float64, bool) {
		w, ok := p.slotWidth(s)
		return w / 2, 2 * w, ok
	})
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

// trySlot measures the slot around the middle of a sample's ray; its depth is 0 when there is none.
func (p *part) trySlot(s *sample) Slot {
	n := p.normal[s.facet]
	w := s.out
	c, ok := p.middle(s.at.Add(n.Mul(w/2)), n, w)
	if !ok {
		return Slot{}
	}
	u, v := region.Across(n)
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
		a, b = b, a
	}
	e := n.Cross(sl.Axis)
	left, right := p.runOn(sl.At, n, e, w), p.runOn(sl.At, n, e.Mul(-1), w)
	sl.LengthMM = left.mm + right.mm
	sl.shut = left.kind == Blind && right.kind == Blind
	sl.At = sl.At.Add(e.Mul((left.mm - right.mm) / 2))
	half := sl.Axis.Mul(sl.DepthMM / 2)
	sl.ends = [2]End{{At: sl.At.Add(half), Kind: a.kind}, {At: sl.At.Sub(half), Kind: b.kind}}
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
	if !sl.shut && byArea < 0.6*sl.LengthMM {
		return sl, 0, false // patches of a pore between which the void goes on
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
			q := p.m.Centroid(f).Sub(sl.At)
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
