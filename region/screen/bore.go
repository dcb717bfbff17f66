package screen

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// findBores finds the round holes and channels, in order of their facets: ways
// that the bath must go, by looking around from within, where region.Sizes finds
// cylinders to be measured, by their facets.
func (p *part) findBores(ctx context.Context) ([]Bore, error) {
	seeds, err := p.seeds(ctx)
	if err != nil {
		return nil, err
	}
	var bores []Bore
	tried := map[seedKey]bool{}
	type found struct {
		Bore
		facet int32
	}
	var all []found
	for i, sd := range seeds {
		if i%64 == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		if p.claimed[sd.facet] || tried[keyOf(sd.c, sd.r)] || within(bores, sd) {
			continue
		}
		tried[keyOf(sd.c, sd.r)] = true
		b, ok := p.trace(sd)
		if !ok {
			continue
		}
		facets := p.wallsOf(&b)
		var area float64
		for _, f := range facets {
			area += p.area[f]
		}
		// What has no wall along most of its length is a view through a lattice, no
		// hole; less than round, it must be whole, as a hexagon is.
		whole := area / (math.Pi * b.DiameterMM * b.DepthMM)
		if whole < 0.5 || b.rms > 0.035 && whole < 0.75 || b.rms > 0.05 && whole < 0.9 {
			continue
		}
		// Nor is the neck of a branching void, nor the opening of a frame, whose
		// bars are longer than their share of it, and leave gaps between them.
		if !p.flanks(&b, facets) && (p.leans(&b, facets) > 0.35 || whole > 1.25 || b.walls < 0.95 && b.DepthMM < 0.5*b.DiameterMM) {
			continue
		}
		// Nor is the way through several bodies, such as the links of a chain.
		if p.bodyShare(facets) < 0.97*area {
			for _, f := range facets {
				p.claimed[f] = true
			}
			continue
		}
		p.refine(&b, facets)
		for _, f := range facets {
			p.claimed[f], p.thread[f] = true, b.Threaded
		}
		bores = append(bores, b)
		all = append(all, found{b, slices.Min(facets)})
	}
	threads, first, err := p.findThreads(ctx)
	if err != nil {
		return nil, err
	}
	for i := range threads {
		bores = append(bores, threads[i])
		all = append(all, found{threads[i], first[i]})
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(a.facet, b.facet) })
	for i := range all {
		bores[i] = all[i].Bore
	}
	return bores, nil
}

// bodyShare returns the largest area that facets have in one shell.
func (p *part) bodyShare(facets []int32) float64 {
	sum := map[int32]float64{}
	var most float64
	for _, f := range facets {
		sum[p.shellOf[f]] += p.area[f]
		most = max(most, sum[p.shellOf[f]])
	}
	return most
}

// within tells whether a seed lies on the axis of a hole that is known.
func within(bores []Bore, sd seed) bool {
	for i := range bores {
		b := &bores[i]
		if math.Abs(2*sd.r-b.DiameterMM) > 0.3*b.DiameterMM {
			continue
		}
		if d, s := b.distance(sd.c); d < 0.5*sd.r && s > 0 && s < b.DepthMM {
			return true
		}
	}
	return false
}

// distance returns the distance of a point from the centre line and the length
// along the line at the place nearest to it; beyond the ends the line runs on straight.
func (b *Bore) distance(q r3.Vector) (d, s float64) {
	k, best := 0, math.Inf(1)
	for i := range b.line {
		if e := q.Sub(b.line[i].c).Norm2(); e < best {
			k, best = i, e
		}
	}
	t := b.line[k]
	z := q.Sub(t.c).Dot(t.a)
	return q.Sub(t.c).Sub(t.a.Mul(z)).Norm(), t.s + z
}
