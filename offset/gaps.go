package offset

import (
	"context"
	"fmt"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/limit"
)

// openGaps lets grow lower the allowance where surfaces face each other, so that
// the recipe's smallest gap stays open, and stores in found what was lowered.
func (pl *Planned) openGaps(job Job, opt *grow.Options, found **limit.Result) {
	opt.Limit = func(ctx context.Context, wanted mesh.CornerField) (mesh.CornerField, error) {
		res, err := limit.Gaps(ctx, pl.Nominal, pl.Topo, pl.nominalTree(job.Workers), wanted, limit.Options{
			MinGap: job.Recipe.Geometry.MinGapMM.Value, MaxSlope: opt.MaxSlope, FeatureAngle: opt.FeatureAngle, Workers: job.Workers,
		})
		if err != nil {
			return nil, err
		}
		*found = res
		return res.Field, nil
	}
}

// maxGapPlaces bounds the places that are listed one by one.
const maxGapPlaces = 20

// noteGaps reports the stock that was left out to keep gaps open, place by
// place, and the gaps that are too narrow for any.
func (pl *Planned) noteGaps(res *limit.Result, minGapMM float64) {
	for i, p := range res.Places {
		if i == maxGapPlaces {
			rest := res.Places[i:]
			at := p.At
			pl.Findings = append(pl.Findings, finding.Finding{
				Code: "stock_missing", Severity: missingSeverity(p.Missing), At: &at, SizeMM: p.Missing, Count: len(rest),
				Message: fmt.Sprintf("in %d more places stock was left out to keep gaps open, %.1f um at most", len(rest), p.Missing*umPerMM),
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
