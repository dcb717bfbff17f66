package offset

import (
	"context"
	"fmt"
	"math"
	"sort"

	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset/field"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

// FieldModel says how the bath's current distribution is found.
type FieldModel string

// Field models.
const (
	FieldNone FieldModel = ""     // every place is exposed alike
	FieldFast FieldModel = "fast" // few panels: lobes, tips, crotches; tenths of a second to seconds
	FieldFull FieldModel = "full" // panels graded to edges and holes
)

// ParseFieldModel reads none, fast or full.
func ParseFieldModel(s string) (FieldModel, error) {
	switch s {
	case "none":
		return FieldNone, nil
	case string(FieldFast), string(FieldFull):
		return FieldModel(s), nil
	}
	return FieldNone, fmt.Errorf("%q is no field model: use none, fast or full", s)
}

// fieldLeftShare is the share of each skin's reached area, the least exposed of
// it, that does not set the bath time but is left to the findings: single
// facets in crotches would otherwise set it for the whole part.
const fieldLeftShare = 0.05

// Exposed is the current distribution over the nominal part.
type Exposed struct {
	Model          FieldModel
	PolarisationMM float64
	FarField       recipe.FarField
	Cathodes       int // plates
	Field          *field.Result
	Spread         field.Spread
	UnreachedMM2   float64 // area below the recipe's shielded_fail: it sets no time
}

// expose solves the bath's field around the nominal part and returns the local
// factors of its skins. A part whose facets are too coarse to carry a factor is
// refined first, in its own planes.
func (pl *Planned) expose(ctx context.Context, job Job) (map[region.Skin]removal.Factor, error) {
	rec := job.Recipe
	opt, err := pl.fieldOptions(job)
	if err != nil {
		return nil, fmt.Errorf("bath field: %w", err)
	}
	opt.Progress = func(done float64) { job.progress("field", 0.12+0.08*done) }
	if err := pl.refine(ctx, job, opt); err != nil {
		return nil, err
	}
	opt.Insulated = pl.masked // of the refined part
	res, err := job.Field.solver()(ctx, pl.Nominal, opt)
	if err != nil {
		return nil, fmt.Errorf("bath field: %w", err)
	}
	pl.Exposed = &Exposed{Model: job.Field, PolarisationMM: opt.PolarisationMM, FarField: rec.Bath.FarField, Cathodes: len(rec.Bath.Cathodes), Field: res, Spread: res.Spread(pl.Nominal)}
	factors := pl.skinFactors(rec.Screen.ShieldedFail.Value)
	pl.noteUnreached(rec.Screen.ShieldedFail.Value)
	return factors, nil
}

// For how many panels a part is refined: facets carry the stock, which varies
// less than the current. Panels are cut from them as fine as the field asks.
const (
	fastRefined = 6000
	fullRefined = 10000
	fewRefined  = 500
)

// refinedPerStock is the least size of refined facets over the stock of an even
// bath, about half of what the field calls for: facets narrower than their stock
// fold over each other beside inside edges.
const refinedPerStock = 2

// refine replaces the nominal part by one of finer facets where the field asks
// for them, none much finer than the stock.
func (pl *Planned) refine(ctx context.Context, job Job, opt field.Options) error {
	plan, err := pl.newPlan(job, nil)
	if err != nil {
		return err
	}
	var stock float64
	for _, s := range plan.Skins {
		stock = math.Max(stock, s.AllowanceUM.Max/umPerMM)
	}
	opt.MaxPanels, opt.StripMM = fullRefined, 2*refinedPerStock*stock
	if job.Field == FieldFast {
		opt.MaxPanels = fastRefined
	}
	if size := refinedPerStock * stock; size > 0 {
		opt.MaxPanels = int(math.Max(fewRefined, math.Min(float64(opt.MaxPanels), pl.Nominal.Area()/(size*size))))
	}
	m, err := field.Refine(ctx, pl.Nominal, opt)
	if err != nil {
		return fmt.Errorf("refining for the bath field: %w", err)
	}
	if len(m.Facets) == len(pl.Nominal.Facets) {
		return nil
	}
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "refined", Severity: finding.Info, Count: len(m.Facets) - len(pl.Nominal.Facets),
		Message: fmt.Sprintf("%d facets were cut into %d, in their own planes, to carry the bath's local exposure", len(pl.Nominal.Facets), len(m.Facets)),
	})
	pl.Nominal, pl.Topo = m, m.Topology()
	if err := pl.keep(job); err != nil {
		return err
	}
	return pl.classify(job)
}

// skinFactors returns the exposure of each skin: the mean over its area, and
// the least over the reached area but for the share that is left to findings.
func (pl *Planned) skinFactors(reached float64) map[region.Skin]removal.Factor {
	type place struct{ f, area float64 }
	by := map[region.Skin][]place{}
	for f, skin := range pl.Sorting.Skin {
		if pl.Masked(f) {
			continue
		}
		by[skin] = append(by[skin], place{pl.Exposed.Field.PerFacet[f], pl.Nominal.FacetArea(f)})
	}
	out := map[region.Skin]removal.Factor{}
	for skin, ps := range by {
		sort.Slice(ps, func(i, j int) bool { return ps[i].f < ps[j].f })
		var all, sum, treated float64
		for _, p := range ps {
			all += p.area
			sum += p.f * p.area
			if p.f >= reached {
				treated += p.area
			}
		}
		least, left := 0.0, fieldLeftShare*treated
		for _, p := range ps {
			if p.f < reached {
				continue
			}
			least = p.f
			if left -= p.area; left < 0 {
				break
			}
		}
		if least > 0 {
			out[skin] = removal.Factor{Least: least, Mean: math.Max(sum/all, least)}
		}
	}
	return out
}

// noteUnreached reports the area that the current hardly reaches.
func (pl *Planned) noteUnreached(reached float64) {
	worst, at, n := math.Inf(1), 0, 0
	for f, v := range pl.Exposed.Field.PerFacet {
		if v < reached && !pl.Masked(f) {
			n++
			pl.Exposed.UnreachedMM2 += pl.Nominal.FacetArea(f)
			if v < worst {
				worst, at = v, f
			}
		}
	}
	if n == 0 {
		return
	}
	place := facetCentre(pl.Nominal, at)
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "field_unreached", Severity: finding.Warning, At: &place, Count: n, SizeMM: math.Sqrt(pl.Exposed.UnreachedMM2),
		Message: fmt.Sprintf("%.3g mm2 get less than %.0f %% of the mean current, the least %.2g %%: they stay rough and near their printed size",
			pl.Exposed.UnreachedMM2, 100*reached, 100*worst),
		Remedy: "open the hollow, use an inner cathode, or leave these faces out of what must be smooth",
	})
}

// Place is the plan for facet f of Nominal: roughness, removal and allowance there.
// A masked face loses nothing, gets nothing and stays as rough as printed.
func (pl *Planned) Place(f int) removal.Place {
	p := pl.facetPlace(f, pl.fromBuildDir(f))
	switch {
	case pl.Masked(f):
		p.TakenUM, p.AllowanceUM, p.FinishedRaUM = 0, 0, p.RaUM
	case pl.kept(f):
		p.AllowanceUM = pl.Kept.Zones[pl.Kept.Zone[f]].StockMM * umPerMM
	}
	return p
}

// facetPlace is the plan for facet f, with its own exposure where the field is known.
func (pl *Planned) facetPlace(f int, theta s1.Angle) removal.Place {
	skin := pl.Sorting.Skin[f]
	if pl.Exposed == nil {
		return pl.Plan.At(skin, theta)
	}
	return pl.Plan.AtExposed(skin, theta, pl.Exposed.Field.PerFacet[f])
}

func (m FieldModel) solver() func(context.Context, *mesh.Mesh, field.Options) (*field.Result, error) {
	if m == FieldFast {
		return field.Fast
	}
	return field.Solve
}

// PrimarySpread returns how unevenly the current would be spread without any
// polarisation: the pessimistic bound beside the chosen length. The other bound
// is the even current, 1 everywhere. It costs another field run.
func (pl *Planned) PrimarySpread(ctx context.Context, job Job) (field.Spread, error) {
	opt, err := pl.fieldOptions(job)
	if err != nil {
		return field.Spread{}, fmt.Errorf("bath field: %w", err)
	}
	opt.PolarisationMM = 0
	res, err := job.Field.solver()(ctx, pl.Nominal, opt)
	if err != nil {
		return field.Spread{}, fmt.Errorf("bath field without polarisation: %w", err)
	}
	return res.Spread(pl.Nominal), nil
}
