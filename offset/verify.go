package offset

import (
	"context"
	"fmt"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/part"
	"skinstock/offset/verify"
	"skinstock/region"
)

// Verify judges a grown part that came from elsewhere: it plans the nominal
// part, spreads the allowance by the slope rule, and proves by distance; with a
// field it also predicts the finish of the grown part by the field around it.
// toleranceMM is the largest shortfall that passes.
func Verify(ctx context.Context, nominal, grown *part.Part, job Job, toleranceMM float64) (*Result, error) {
	pl, err := Plan(ctx, nominal, job)
	if err != nil {
		return nil, err
	}
	if err := pl.followLoop(ctx, job); err != nil {
		return nil, err
	}
	r := &Result{Planned: pl, Grown: grown.Mesh, GrownMM3: grown.Mesh.Volume()}
	job.progress("crossings", 0.3)
	r.tree = bvh.New(r.Grown, job.Workers)
	c, err := r.tree.SelfCrossings(ctx, bvh.CrossingOptions{Workers: job.Workers, Limit: 1})
	if err != nil {
		return nil, err
	}
	if r.Crossings = c.Total; c.Total > 0 {
		at := facetCentre(r.Grown, int(c.Pairs[0][0]))
		r.Findings = append(r.Findings, finding.Finding{
			Code: "self_crossing_output", Severity: finding.Error, At: &at, Count: c.Total,
			Message: fmt.Sprintf("%d pairs of facets of the grown part cross or touch", c.Total), Remedy: "do not print it: grow the part again",
		})
	}
	job.progress("allowance", 0.5)
	whole := *pl
	if err := pl.finer(ctx, job); err != nil {
		return nil, err
	}
	// Bodies that would meet give up stock by what they grow to: only growing again tells how much.
	again, _, err := (&Result{Planned: pl}).growFine(ctx, job, whole)
	if err != nil {
		return nil, err
	}
	r.Allowance = again.Allowance
	r.noteYielded(again.Yielded)
	if r.Kept != nil {
		r.traced = region.Trace(r.Nominal, r.Grown, r.Kept, r.reach())
	}
	job.progress("proof", 0.6)
	opt := r.proofOptions(job)
	opt.ToleranceMM = toleranceMM
	if r.Proof, err = verify.Verify(ctx, r.Nominal, r.Grown, r.Allowance, opt); err != nil {
		return nil, err
	}
	r.noteShortfall()
	r.noteExcess()
	if err := r.checkKept(ctx); err != nil {
		return nil, err
	}
	job.progress("finish", 0.9)
	if err := r.stand(ctx, job); err != nil {
		return nil, err
	}
	r.tree, pl.tree = nil, nil
	job.progress("done", 1)
	return r, ctx.Err()
}

// noteExcess adds an error when a hundredth of the area or more carries more
// than twice its stock: that is no mitre or fillet, but another part, unit or place.
func (r *Result) noteExcess() {
	most := r.mostAllowance()
	e := r.Proof.All.Excess
	if e.P99 <= most || most == 0 {
		return
	}
	at := e.Max.At
	r.Findings = append(r.Findings, finding.Finding{
		Code: "stock_excess", Severity: finding.Error, At: &at, SizeMM: e.Max.Value, Count: 1,
		Message: fmt.Sprintf("a hundredth of the area or more carries over %.0f um beyond the stock called for, up to %.0f um: it would finish oversize", e.P99*umPerMM, e.Max.Value*umPerMM),
		Remedy:  foreignRemedy,
	})
}

// foreignRemedy is for two parts that can hardly be the same one.
const foreignRemedy = "check that the grown file belongs to this part, and its unit and place"

// mostAllowance returns the greatest allowance anywhere, mm.
func (r *Result) mostAllowance() float64 {
	return r.Allowance.Most(0)
}

// mostAsked returns the greatest allowance called for anywhere, mm.
func (pl *Planned) mostAsked() float64 {
	return mesh.Most(len(pl.FacetMM), 0, func(f int) float64 { return pl.FacetMM[f] })
}
