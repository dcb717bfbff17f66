package verify

import (
	"context"
	"fmt"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// Shortfalls asks the marked facets of the nominal mesh and their corners alone
// for their stock, as Verify does, and returns the worst shortfall of each, mm; 0 where there is none and for facets that are not
// marked. It is for trying a change of the grown surface, and no proof of the whole.
func Shortfalls(ctx context.Context, nominal, grown *mesh.Mesh, wanted mesh.CornerField, marked []bool, opt Options) ([]float64, error) {
	opt = opt.withDefaults()
	if err := check(nominal, grown, wanted, opt); err != nil {
		return nil, err
	}
	if len(marked) != len(nominal.Facets) {
		return nil, fmt.Errorf("%w: marks for %d facets, the nominal mesh has %d", ErrInput, len(marked), len(nominal.Facets))
	}
	tree := bvh.New(grown, opt.Workers)
	r := &run{
		gauge: &gauge{nominal: nominal, grown: grown, wanted: wanted, tree: tree, signs: tree.Signs(nil), workers: opt.Workers},
		opt:   opt, plan: planFor(nominal, opt.Samples), only: marked,
	}
	if err := r.facets(ctx); err != nil {
		return nil, err
	}
	if err := r.vertices(ctx); err != nil {
		return nil, err
	}
	out := make([]float64, len(marked))
	for f, yes := range marked {
		if yes {
			for _, v := range nominal.Facets[f] {
				out[f] = max(out[f], -r.vertexDev[v])
			}
			for _, d := range r.dev[r.plan.start[f]:r.plan.start[f+1]] {
				out[f] = max(out[f], -d)
			}
		}
	}
	return out, nil
}
