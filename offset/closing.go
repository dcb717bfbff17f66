package offset

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset/field"
	"skinstock/offset/field/loop"
	"skinstock/offset/grow"
	"skinstock/region"
)

// Closed is what closing the loop on the bath's field found: the stock was
// corrected until the finished surface, as predicted, came out on nominal.
type Closed struct {
	RemovalMM float64    // depth where the factor is 1
	Finished  *mesh.Mesh // predicted mean surface after the bath, facet for facet with Nominal
	SignedMM  []float64  // its deviation from Nominal by facet, positive where metal is left
	Uniform   loop.Deviation
	History   []loop.Deviation
	Best      int          // index in History
	Capped    int          // facets whose stock met the limit
	Skins     []SkinFinish // one a skin that the part has
	Whole     SkinFinish   // the same over the whole part
}

// SkinFinish is the predicted finish of a skin away from sharp edges, and what
// the same stock everywhere would have left there.
type SkinFinish struct {
	Skin               region.Skin
	Predicted, Uniform loop.Away
}

func finishBySkin(res *loop.Result, skins []region.Skin) (whole SkinFinish, by []SkinFinish) {
	whole.Predicted, whole.Uniform = res.Over(func(int) bool { return true })
	for _, skin := range region.Skins {
		p, u := res.Over(func(f int) bool { return skins[f] == skin })
		if p.AreaMM2+p.BesideMM2 > 0 {
			by = append(by, SkinFinish{skin, p, u})
		}
	}
	return whole, by
}

// The loop solves the field many times. Its stock is corrected by what is left
// over, so that each solution may be coarser than the one that sets the time.
const (
	loopPanels    = 15000
	loopTolerance = 1e-4
	loopDegree    = 8 // sums good to the tolerance
)

// closeLoop replaces the allowances by those that finish on nominal: grow, solve
// on the way through the removal, predict, correct. Stand-off, oversize and extra are of the
// printer and stay as planned. It does nothing in own exposure, where there is
// no one depth for the whole part.
func (pl *Planned) closeLoop(ctx context.Context, job Job) error {
	depthUM, ok := pl.Plan.SharedDepthUM()
	if !ok || pl.Exposed == nil {
		return nil
	}
	opt, err := pl.fieldOptions(job)
	if err != nil {
		return fmt.Errorf("bath field: %w", err)
	}
	opt.MaxPanels, opt.Tolerance, opt.Degree = loopPanels, loopTolerance, loopDegree
	growing, _ := pl.growing(job, nil) // gaps are reported when the final stock is grown
	growing.Whole = true               // the loop moves vertices; it splits none
	res, err := loop.Run(ctx, pl.Nominal, loop.Options{
		RemovalMM: depthUM / umPerMM,
		Field:     opt,
		Grow: func(ctx context.Context, m *mesh.Mesh, stockMM []float64) ([]r3.Vector, error) {
			out, err := grow.Grow(ctx, m, pl.Topo, stockMM, growing)
			if err != nil {
				return nil, err
			}
			return out.Vertices, nil
		},
		Progress: func(done float64) { job.progress("field loop", 0.2+0.2*done) },
	})
	var stuck *field.NotConvergedError
	if errors.As(err, &stuck) {
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "loop_stopped", Severity: finding.Warning, Count: 1,
			Message: fmt.Sprintf("the field on the grown part could not be solved (%v): the stock follows the field on the nominal part alone", stuck),
			Remedy:  "use a smaller allowance, or look where the grown surface meets itself",
		})
		return nil
	}
	if err != nil {
		return err
	}
	for f, skin := range pl.Sorting.Skin {
		if _, fixed := job.FixedUM[skin]; fixed || pl.kept(f) {
			continue
		}
		p := pl.facetPlace(f, pl.fromBuildDir(f))
		pl.FacetMM[f] = math.Max(0, res.StockMM[f]+(p.StandOffUM-p.OversizeUM+p.ExtraUM)/umPerMM)
	}
	pl.Closed = &Closed{
		RemovalMM: depthUM / umPerMM, Finished: res.Finished, SignedMM: res.Signed,
		Uniform: res.Uniform, History: res.History, Best: res.Best, Capped: res.Capped,
	}
	pl.Closed.Whole, pl.Closed.Skins = finishBySkin(res, pl.Sorting.Skin)
	return nil
}

// growOptions are the recipe's rules for moving the surface.
func (pl *Planned) growOptions(job Job) grow.Options {
	g := job.Recipe.Geometry
	opt := grow.Options{
		MaxSlope:     g.MaxSlope.Value,
		MitreLimit:   g.MitreLimit.Value,
		FeatureAngle: s1.Angle(g.FeatureAngleDeg.Value) * s1.Degree,
		Keep:         pl.masked,
		Around:       pl.around(),
		Workers:      job.Workers,
	}
	if pl.Kept != nil {
		opt.Held = pl.Kept.Held
	}
	return opt
}
