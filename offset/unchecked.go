package offset

import (
	"context"
	"runtime"

	"skinstock/mesh/finding"
	"skinstock/offset/grow"
)

// growUnchecked moves the nominal surface outwards by its allowances alone: no
// wall looks for another, sharp points stay whole up to the mitre limit, and
// where the surface came to cross itself is not known. Facet i stays facet i.
func (r *Result) growUnchecked(ctx context.Context, job Job) error {
	if r.nothingToAdd() {
		return ErrNothingToAdd
	}
	opt := r.growOptions(job)
	opt.Whole, opt.LastUse = true, job.Lean
	if job.Lean {
		r.Sorting.Inclination = nil
		runtime.GC() // what sorting the skins took makes room for the allowance
	}
	out, err := grow.Grow(ctx, r.Nominal, r.Topo, r.FacetMM, opt)
	if err != nil {
		return err
	}
	r.Grown, r.Allowance = r.Nominal.WithVertices(out.Vertices), out.Allowance
	r.Grown.RoundToFloat32()
	r.noteYielded(out.Yielded)
	if err := r.checkKept(ctx); err != nil {
		return err
	}
	r.noteNeedles(out.Needles)
	r.Findings = append(r.Findings, finding.Finding{
		Code: "unchecked", Severity: finding.Warning, Count: 1,
		Message: "nothing was proved: the room between walls and crossings of the surface, before and after growing, were not looked for, and no stock was measured",
		Remedy:  "do not print from this file: run again with --verify full",
	})
	return nil
}
