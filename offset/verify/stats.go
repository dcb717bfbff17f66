package verify

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/region"
)

// tally adds up samples.
type tally struct {
	Stats
	weight, sum, sum2 float64
}

func newTally() *tally {
	t := &tally{}
	t.Shortfall.Max.Facet, t.Excess.Max.Facet = -1, -1
	return t
}

// worst takes a deviation without weight.
func (t *tally) worst(dev float64, facet int, at func() r3.Vector) {
	t.Samples++
	t.Shortfall.Max.take(-dev, facet, at)
	t.Excess.Max.take(dev, facet, at)
}

func (t *tally) add(dev, weight float64) {
	t.weight += weight
	t.sum += float64(weight * dev)
	t.sum2 += float64(weight * float64(dev*dev))
}

func (t *tally) finish() {
	t.Area = t.weight
	if t.weight > 0 {
		t.Mean, t.RMS = t.sum/t.weight, math.Sqrt(t.sum2/t.weight)
	}
}

// levels is how finely percentiles are told apart, as a share of the greatest value.
const levels = 8192

// shares holds the weight of values by level.
type shares struct {
	top    float64
	weight [levels + 1]float64 // at 0 what is not above zero
	total  float64
}

func (s *shares) add(v, weight float64) {
	s.total += weight
	if !(v > 0) {
		s.weight[0] += weight
		return
	}
	s.weight[min(1+int(v/s.top*levels), levels)] += weight
}

// quantile returns the least level's upper end that holds the share q of the weight.
func (s *shares) quantile(q float64) float64 {
	if s.total == 0 {
		return 0
	}
	sum := 0.0
	for i, w := range s.weight {
		if sum += w; sum >= q*s.total {
			return s.top * float64(i) / levels
		}
	}
	return s.top
}

// proof sums up: all samples, those of each skin, and the places, side by side, and
// each in the order of facets and vertices.
func (r *run) proof() *Proof {
	m := r.nominal
	p := &Proof{Tolerance: r.opt.ToleranceMM, VertexDeviation: r.vertexDev, FacetDeviation: make([]float64, len(m.Facets))}
	weight := make([]float64, len(m.Facets)) // of each sample of a facet
	mesh.InChunks(len(m.Facets), r.workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			p.FacetDeviation[f], weight[f] = r.facetDeviation(f), r.plan.weight(f)
		}
	})
	all, skins := []*tally{newTally()}, []*tally(nil)
	if r.opt.Skins != nil {
		for range region.Skins {
			skins = append(skins, newTally())
		}
	}
	_ = mesh.Beside(
		context.Background(), r.workers, // none fails
		func() error { p.ShortfallPlaces, p.PlaceCount = r.places(); return nil },
		func() error {
			r.sumUp(all, func(int) int { return 0 }, weight)
			p.All = all[0].Stats
			p.Histogram = r.histogram(&p.All, weight)
			return nil
		},
		func() error {
			if skins != nil {
				r.sumUp(skins, func(f int) int { return int(r.opt.Skins[f]) }, weight)
			}
			return nil
		},
	)
	for i, t := range skins {
		if t.Samples > 0 {
			p.BySkin = append(p.BySkin, SkinStats{region.Skins[i], t.Stats})
		}
	}
	p.Outside = count(r.out) + count(r.vertexOut)
	r.addGrown(p)
	return p
}

// sumUp adds the samples to the tallies of their facets.
func (r *run) sumUp(to []*tally, of func(f int) int, weight []float64) {
	m := r.nominal
	for f := range m.Facets {
		t := to[of(f)]
		first := int(r.plan.start[f])
		n, side := r.plan.of(f)
		for i := range n {
			dev := r.dev[first+i]
			t.worst(dev, f, func() r3.Vector { p, _ := r.plan.at(f, i); return p.of(m.Triangle(f)) })
			if i < n-3*side {
				t.add(dev, weight[f])
			}
		}
	}
	for v, dev := range r.vertexDev {
		if around := r.near.Of(int32(v)); len(around) > 0 {
			f := int(around[0] / 3)
			to[of(f)].worst(dev, f, func() r3.Vector { return m.Vertices[v] })
		}
	}
	r.percentiles(to, of, weight)
	for _, t := range to {
		t.finish()
	}
}

// facetDeviation is what Proof says of facet f.
func (r *run) facetDeviation(f int) float64 {
	n, side := r.plan.of(f)
	devs := r.dev[r.plan.start[f]:][:n]
	least, sum := 0.0, 0.0
	for i, dev := range devs {
		least = min(least, dev)
		if i < n-3*side {
			sum += dev
		}
	}
	if least < 0 {
		return least
	}
	return sum / float64(n-3*side)
}

// percentiles fills in P95 and P99 of the tallies.
func (r *run) percentiles(to []*tally, of func(f int) int, weight []float64) {
	short, excess := make([]shares, len(to)), make([]shares, len(to))
	for i, t := range to {
		short[i].top, excess[i].top = t.Shortfall.Max.Value, t.Excess.Max.Value
	}
	r.each(weight, func(f int, dev, weight float64) {
		short[of(f)].add(-dev, weight)
		excess[of(f)].add(dev, weight)
	})
	for i, t := range to {
		t.Shortfall.P95, t.Shortfall.P99 = short[i].quantile(0.95), short[i].quantile(0.99)
		t.Excess.P95, t.Excess.P99 = excess[i].quantile(0.95), excess[i].quantile(0.99)
	}
}

// each calls do with the samples that stand for area.
func (r *run) each(weight []float64, do func(f int, dev, weight float64)) {
	for f := range r.nominal.Facets {
		first := int(r.plan.start[f])
		n, side := r.plan.of(f)
		for _, dev := range r.dev[first : first+n-3*side] {
			do(f, dev, weight[f])
		}
	}
}

// histogram lays about 40 steps of a round width over the deviations.
func (r *run) histogram(all *Stats, weight []float64) Histogram {
	lo, hi := -all.Shortfall.Max.Value, all.Excess.Max.Value
	step := roundUp(max((hi-lo)/40, 1e-4))
	h := Histogram{Step: step, Start: math.Floor(lo/step) * step}
	h.Share = make([]float64, int(math.Floor((hi-h.Start)/step))+1)
	total := 0.0
	r.each(weight, func(_ int, dev, weight float64) {
		i := min(max(int((dev-h.Start)/step), 0), len(h.Share)-1)
		h.Share[i] += weight
		total += weight
	})
	if total > 0 {
		for i := range h.Share {
			h.Share[i] /= total
		}
	}
	return h
}

// roundUp returns the next of 1, 2, 5 times a power of ten.
func roundUp(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{1, 2, 5} {
		if x <= k*p*(1+1e-9) {
			return k * p
		}
	}
	return 10 * p
}

// addGrown sums up the samples on the grown surface.
func (r *run) addGrown(p *Proof) {
	p.GrownShortfall.Facet, p.Reach.Facet = -1, -1
	if r.fromOutside == nil {
		return
	}
	for i := range r.fromOutside.groups {
		w := &r.fromOutside.groups[i]
		p.GrownSamples += w.samples
		for _, lacks := range [][]Lack{w.lacks, w.edges, w.spotLacks} {
			for _, l := range lacks {
				p.GrownShortfall.take(l.By, l.Facet, func() r3.Vector { return l.Above })
			}
		}
		p.Reach.take(w.reach.Value, w.reach.Facet, func() r3.Vector { return w.reach.At })
	}
}

func count(marks []bool) int {
	n := 0
	for _, yes := range marks {
		if yes {
			n++
		}
	}
	return n
}
