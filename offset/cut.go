package offset

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
)

// resolve makes Grown free of the crossings found in it. back tells that its tree
// is wanted as it is for the states before.
func (r *Result) resolve(ctx context.Context, job Job, c *bvh.Crossings, back bool) error {
	if c.Total == 0 {
		return nil
	}
	at := facetCentre(r.Grown, int(c.Pairs[0][0]))
	m, rep, err := arrange.Resolve(ctx, r.Grown, r.arranging(job, c.Facets()))
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return &CrossingError{At: at, Err: err}
	}
	r.noteFused(m, at)
	nominalOf := rep.Facet
	if r.NominalOf != nil {
		nominalOf = make([]int32, len(rep.Facet))
		for f, p := range rep.Facet {
			nominalOf[f] = r.NominalOf[p]
		}
	}
	r.Rebuilt, r.cut = rep.FacetsAdded, true
	r.untested = changed(r.Grown, m, rep.Facet)
	r.replaceTree(m, rep.Facet, job.Workers, back)
	r.Grown, r.NominalOf, r.number = m, nominalOf, rep.Facet
	r.settled = append(r.settled, finding.Finding{
		Code: "rebuilt", Severity: finding.Info, At: &at, Count: c.Total,
		Message: fmt.Sprintf("%d pairs of facets met while growing: %d facets were cut, %d pieces took their place", c.Total, rep.CutFacets, rep.FacetsAdded),
	})
	return nil
}

// replaceTree makes the tree one of m, the next Grown, of whose facets of tells where
// they stand; the present one stays as it is where it may be gone back to.
func (r *Result) replaceTree(m *mesh.Mesh, of []int32, workers int, back bool) {
	if back {
		r.tree = r.tree.Replaced(m, of, workers)
	} else {
		r.tree.Replace(m, of, workers)
	}
}

// changed marks the facets of after that are not, corner for corner, the facet
// of[g] of before.
func changed(before, after *mesh.Mesh, of []int32) []bool {
	out := make([]bool, len(of))
	mesh.InChunks(len(of), 0, func(lo, hi int) {
		for g := lo; g < hi; g++ {
			a, b, c := after.Triangle(g)
			p, q, r := before.Triangle(int(of[g]))
			out[g] = !(a == p && b == q && c == r || a == q && b == r && c == p || a == r && b == p && c == q)
		}
	})
	return out
}

// checkClean tests the facets that were cut, or lie beside a cut, once more against
// all: what cuts them knows which facets can meet, and is not believed.
func (r *Result) checkClean(ctx context.Context, job Job) error {
	if !r.cut {
		return nil
	}
	c, err := r.tree.SelfCrossingsNear(ctx, r.untested, bvh.CrossingOptions{Workers: job.Workers, Limit: 1})
	if err != nil || c.Total == 0 {
		return err
	}
	return &CrossingError{At: facetCentre(r.Grown, int(c.Pairs[0][0])), Err: fmt.Errorf("%d pairs of facets meet", c.Total)}
}

// arranging are the options to resolve the crossings of a grown surface of
// which suspects are known to be the facets that meet. Voids that the folds of
// moving facets leave are filled: no larger than the move itself.
func (r *Result) arranging(job Job, suspects []int32) arrange.Options {
	return arrange.Options{Workers: job.Workers, Suspects: suspects, DropVoidsMM: slices.Max(r.FacetMM), DropVoidsMM3: math.Inf(1)}
}

// noteFused reports bodies of the nominal part that are one body in the grown
// mesh: links and hinges printed from it would not move.
func (r *Result) noteFused(grown *mesh.Mesh, at r3.Vector) {
	before := r.bodies()
	if before < 2 {
		return
	}
	after := solidBodies(grown, grown.Topology())
	if after >= before {
		return
	}
	r.settled = append(r.settled, finding.Finding{
		Code: "bodies_fused", Severity: finding.Error, At: &at, Count: before - after,
		Message: fmt.Sprintf("%d bodies became %d: they stand closer than the stock needs and were joined", before, after),
		Remedy:  "move the bodies apart by at least two allowances and the smallest gap that must stay open, or print them one by one",
	})
}
