package verify

import (
	"context"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// Watch keeps what was measured of a part while its grown surface is changed
// little by little: only places that a change can reach are measured again.
type Watch struct {
	r *run
}

// Start measures all of a part, as Verify does.
func Start(ctx context.Context, nominal, grown *mesh.Mesh, wanted mesh.CornerField, opt Options) (*Watch, error) {
	opt = opt.withDefaults()
	if err := check(nominal, grown, wanted, opt); err != nil {
		return nil, err
	}
	r := &run{gauge: &gauge{nominal: nominal, wanted: wanted, workers: opt.Workers, around: opt.NominalTree}, opt: opt, plan: planFor(nominal, opt.Samples)}
	r.most = wanted.Most(opt.Workers)
	if r.around == nil {
		r.near = nominal.Incidence()
	} else {
		r.near = r.around.Incidence()
	}
	r.face(grown, opt.GrownTree, opt.Dry, opt.Numbers)
	r.tree.Widen(opt.Workers)
	if err := r.facets(ctx); err != nil {
		return nil, err
	}
	if err := r.vertices(ctx); err != nil {
		return nil, err
	}
	r.tree.Narrow() // before the other tree needs as much
	if !opt.OneWay {
		if err := r.fromGrown(ctx, &change{}); err != nil {
			return nil, err
		}
	}
	return &Watch{r}, nil
}

// Short returns the worst shortfall of every nominal facet and its corners, mm; 0 where there is none.
func (w *Watch) Short() []float64 {
	r := w.r
	out := make([]float64, len(r.nominal.Facets))
	mesh.InChunks(len(out), r.workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := r.nominal.Facets[f]
			least := min(0, r.vertexDev[t[0]], r.vertexDev[t[1]], r.vertexDev[t[2]])
			for _, d := range r.dev[r.plan.start[f]:r.plan.start[f+1]] {
				least = min(least, d)
			}
			out[f] = -least
		}
	})
	return out
}

// Proof sums up the present state.
func (w *Watch) Proof() *Proof { return w.r.proof() }

// Change takes another grown surface in place of the present one; tree is that
// of grown, nil to have it built, dry and numbers are as in Options. Both surfaces
// must be free of crossings. What is measured is all that the facets in which
// the two differ can reach. Samples on the grown surface keep their number when
// its facets stay and only vertices moved.
func (w *Watch) Change(ctx context.Context, grown *mesh.Mesh, tree *bvh.Tree, dry []bool, numbers []int32) error {
	r := w.r
	c := &change{}
	if sameFacets(r.grown, grown) {
		c.move(r.grown, grown, r.workers)
	} else {
		c.swap(r.grown, grown, r.numbers, numbers)
	}
	if err := r.reached(ctx, c); err != nil {
		return err
	}
	r.face(grown, tree, dry, numbers)
	if err := r.facets(ctx); err != nil {
		return err
	}
	if err := r.vertices(ctx); err != nil {
		return err
	}
	defer func() { r.only = nil }()
	if r.opt.OneWay {
		return nil
	}
	return r.fromGrown(ctx, c)
}

func sameFacets(a, b *mesh.Mesh) bool {
	return len(a.Vertices) == len(b.Vertices) && len(a.Facets) == len(b.Facets) && &a.Facets[0] == &b.Facets[0]
}
