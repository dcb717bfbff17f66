package offset

import (
	"context"
	"fmt"
	"math"
	"slices"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/limit"
)

// growing are the options of growing that lower the allowance where surfaces face
// each other, so that the recipe's smallest gap stays open, and to capMM on each
// facet unless that is nil. What was lowered is in found once the part is grown.
func (pl *Planned) growing(job Job, capMM []float64) (opt grow.Options, found *limit.Result) {
	opt, found = pl.growOptions(job), &limit.Result{}
	opt.Limit = func(ctx context.Context, wanted mesh.CornerField) (mesh.CornerField, error) {
		res, err := limit.Gaps(ctx, pl.Nominal, pl.Topo, wanted, limit.Options{
			MinGap: job.Recipe.Geometry.MinGapMM.Value, MaxSlope: opt.MaxSlope, FeatureAngle: opt.FeatureAngle, Workers: job.Workers, CapMM: capMM,
			Tree: func() *bvh.Tree { return pl.nominalTree(job.Workers) }, Clear: pl.clear,
		})
		if err != nil {
			return nil, err
		}
		*found, pl.clear = *res, res.Clear
		return res.Field, nil
	}
	return opt, found
}

const (
	// apartRounds bounds the search for stock with which bodies stay apart.
	apartRounds = 12
	// apartHalvings is the number of rounds in which stock is halved where bodies
	// met; in those after, it is taken away.
	apartHalvings = 3
)

// splitCrossings is how many pairs of facets may cross on a surface with split
// points before one with all points whole is tried.
const splitCrossings = 100

// growBest grows the nominal surface with sharp points split, and with all of
// them whole where the split surface crosses itself in more places: stock at
// needles is not worth a surface that cannot be made clean. It returns the
// crossings that are left in Grown.
func (r *Result) growBest(ctx context.Context, job Job) (*grow.Result, *bvh.Crossings, error) {
	first, err := r.growNominal(ctx, job, nil, false)
	if err != nil {
		return nil, nil, err
	}
	best := *r
	g, err := best.growApart(ctx, job, first, false)
	if err != nil {
		return nil, nil, err
	}
	if g.out.Surface != nil && g.crossings.Total > splitCrossings {
		whole := *r
		first.out = first.out.Whole()
		w, err := whole.growApart(ctx, job, first, true)
		if err != nil {
			return nil, nil, err
		}
		if w.crossings.Total < g.crossings.Total {
			best, g = whole, w
		}
	}
	*r = best
	r.noteGaps(g.gaps, job.Recipe.Geometry.MinGapMM.Value)
	return g.out, g.crossings, nil
}

// growth is how the nominal surface moved.
type growth struct {
	out       *grow.Result
	gaps      *limit.Result  // the stock that was left out
	crossings *bvh.Crossings // of the surface; nil when they are not known
}

// growApart takes the nominal surface as it has moved for Grown, and has it grow anew
// with less stock where bodies that are apart would meet, as at sharp edges, which
// stand out farther than the faces beside them. It returns how the surface moved
// in the end, with the crossings that are left in Grown.
func (r *Result) growApart(ctx context.Context, job Job, g growth, whole bool) (growth, error) {
	var capMM []float64
	body, bodies := bodiesOf(r.Nominal, r.Topo)
	for round := 0; ; round++ {
		var err error
		if capMM != nil {
			if g, err = r.growNominal(ctx, job, capMM, whole); err != nil {
				return growth{}, err
			}
		}
		job.progress("crossings", 0.4)
		r.keepShape(g.out.Surface)
		r.take(r.movedOf(g.out), job.Workers)
		if g.crossings, err = r.crossingsOf(ctx, job, g.out); err != nil {
			return growth{}, err
		}
		met := g.crossings.Pairs[:0:0]
		for _, p := range g.crossings.Pairs {
			f, g := r.nominalOf(int(p[0])), r.nominalOf(int(p[1]))
			if bodies > 1 && body[f] != body[g] {
				met = append(met, [2]int32{int32(f), int32(g)})
			}
		}
		if len(met) == 0 || round == apartRounds {
			r.capped = capMM != nil
			return g, nil
		}
		if capMM == nil {
			capMM = slices.Repeat([]float64{math.Inf(1)}, len(r.Nominal.Facets))
		}
		r.lowerCaps(capMM, met, g.out.Allowance, round < apartHalvings)
	}
}

// lowerCaps lowers the caps of all facets around the corners of facets that
// met, to half of their stock or to none.
func (r *Result) lowerCaps(capMM []float64, met [][2]int32, stock mesh.CornerField, half bool) {
	near := make([]bool, len(r.Nominal.Vertices))
	for _, p := range met {
		for _, f := range p {
			for _, v := range r.Nominal.Facets[f] {
				near[v] = true
			}
		}
	}
	for f, t := range r.Nominal.Facets {
		switch {
		case !near[t[0]] && !near[t[1]] && !near[t[2]]:
		case half:
			capMM[f] = min(capMM[f], slices.Max(stock[f][:])/2)
		default:
			capMM[f] = 0
		}
	}
}

// maxGapPlaces bounds the places that are listed one by one.
const maxGapPlaces = 20

// noteGaps reports the stock that was left out to keep gaps open, place by
// place, and the gaps that are too narrow for any.
func (pl *Planned) noteGaps(res *limit.Result, minGapMM float64) {
	for i, p := range res.Places {
		if i == maxGapPlaces {
			pl.Findings = append(pl.Findings, finding.Finding{
				Code: "stock_missing", Severity: missingSeverity(p.Missing), SizeMM: p.Missing, Count: len(res.Places) - i,
				Message: fmt.Sprintf("in %d more places stock was left out to keep gaps open, %.1f um at most", len(res.Places)-i, p.Missing*umPerMM),
			})
			break
		}
		at := p.At
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "stock_missing", Severity: missingSeverity(p.Missing), At: &at, SizeMM: p.Missing, Count: p.Facets,
			Message: fmt.Sprintf("%.1f um of %.1f um of stock are left out around here, over %.3g mm2, to keep a gap open: the place would finish undersize by that much", p.Missing*umPerMM, p.Wanted*umPerMM, p.Area),
			Remedy:  fmt.Sprintf("widen the gap there, mask one side, or lower min_gap_mm (%.3g) in the recipe if less may stay open", minGapMM),
		})
	}
	pl.noteTooNarrow(res, minGapMM)
}

// noteTooNarrow reports the gaps that are narrower than what must stay open
// before anything grows.
func (pl *Planned) noteTooNarrow(res *limit.Result, minGapMM float64) {
	n, worst := 0, -1
	for i, p := range res.Places {
		if p.Gap < minGapMM {
			if n++; worst < 0 || p.Gap < res.Places[worst].Gap {
				worst = i
			}
		}
	}
	if n == 0 {
		return
	}
	p := res.Places[worst]
	at := p.At
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "closing_gap", Severity: finding.Warning, At: &at, SizeMM: p.Gap, Count: n,
		Message: fmt.Sprintf("surfaces stand %.4f mm apart here, less than the %.2f mm that must stay open (min_gap_mm): they got no stock", p.Gap, minGapMM),
		Remedy:  "powder and bath hardly pass such a gap: widen it, or print the bodies one by one",
	})
}
