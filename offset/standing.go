package offset

import (
	"context"
	"fmt"

	"skinstock/offset/field/loop"
	"skinstock/region"
)

// Standing is the predicted finish of a grown part that came from elsewhere, by
// the field around it.
type Standing struct {
	RemovalMM float64      // depth where the factor is 1
	Whole     SkinFinish   // without a figure for the same stock everywhere
	Skins     []SkinFinish // one a skin that the part has
}

// followLoop takes the allowances that a full field run would: those of the loop.
func (pl *Planned) followLoop(ctx context.Context, job Job) error {
	if job.Field != FieldFull {
		return nil
	}
	err := pl.closeLoop(ctx, job)
	pl.Closed = nil // its finish is that of another surface
	return err
}

// stand predicts the finish of the given grown part. It does nothing without a
// field, and in own exposure, where there is no one depth for the whole part.
func (r *Result) stand(ctx context.Context, job Job) error {
	depthUM, ok := r.Plan.SharedDepthUM()
	if !ok || r.Exposed == nil || r.Crossings > 0 {
		return nil
	}
	opt, err := r.fieldOptions(job)
	if err != nil {
		return fmt.Errorf("bath field: %w", err)
	}
	opt.Insulated, opt.MaxPanels, opt.Tolerance = r.dry(), loopPanels, loopTolerance
	if job.Field == FieldFast {
		opt.MaxPanels = 0 // the fast model's own
	}
	res, err := job.Field.solver()(ctx, r.Grown, opt)
	if err != nil {
		return fmt.Errorf("bath field around the grown part: %w", err)
	}
	s := loop.Stand(r.Nominal, r.Grown, res, r.Exposed.Field, depthUM/umPerMM, func(f int) float64 {
		p := r.Place(f)
		return (p.StandOffUM - p.OversizeUM + p.ExtraUM) / umPerMM
	}, job.Workers)
	r.Standing = &Standing{RemovalMM: depthUM / umPerMM, Whole: SkinFinish{Predicted: s.Over(func(int) bool { return true })}}
	for _, skin := range region.Skins {
		a := s.Over(func(f int) bool { return r.Sorting.Skin[f] == skin })
		if a.AreaMM2+a.BesideMM2 > 0 {
			r.Standing.Skins = append(r.Standing.Skins, SkinFinish{Skin: skin, Predicted: a})
		}
	}
	return nil
}
