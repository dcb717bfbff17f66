package verify

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
)

// reached marks the nominal facets whose readings a change can alter.
//
// A sample x asks for the grown surface nearest to x, at distance d, and for
// that nearest to x + a n, which is at most a + d away: both lie within 2 a + d
// of x. On a surface without crossings, the facets that meet at the nearest place
// say whether x is inside.
func (r *run) reached(ctx context.Context, c *change) error {
	r.only = make([]bool, len(r.nominal.Facets))
	if len(c.both.Facets) == 0 {
		return nil
	}
	tree := bvh.New(&c.both, r.workers)
	return bvh.InChunks(ctx, len(r.only), r.workers, func(lo, hi int) error {
		var own [groupSize]zone
		for ; lo < hi; lo += groupSize {
			n := min(groupSize, hi-lo)
			for i := range n {
				own[i] = r.zone(lo + i)
			}
			if !around(own[:n]).meets(tree) { // facets that follow each other mostly lie together
				continue
			}
			for i := range n {
				r.only[lo+i] = own[i].meets(tree)
			}
		}
		return nil
	})
}

// zone is a box by its corners.
type zone struct{ least, most r3.Vector }

// zone holds all of the surface that counts for facet f.
func (r *run) zone(f int) zone {
	p, q, t := r.nominal.Triangle(f)
	d := r.reach(f)
	return zone{
		r3.Vector{X: min(p.X, q.X, t.X) - d, Y: min(p.Y, q.Y, t.Y) - d, Z: min(p.Z, q.Z, t.Z) - d},
		r3.Vector{X: max(p.X, q.X, t.X) + d, Y: max(p.Y, q.Y, t.Y) + d, Z: max(p.Z, q.Z, t.Z) + d},
	}
}

// around returns the box around all of zs.
func around(zs []zone) zone {
	all := zs[0]
	for _, z := range zs[1:] {
		all.least = r3.Vector{X: min(all.least.X, z.least.X), Y: min(all.least.Y, z.least.Y), Z: min(all.least.Z, z.least.Z)}
		all.most = r3.Vector{X: max(all.most.X, z.most.X), Y: max(all.most.Y, z.most.Y), Z: max(all.most.Z, z.most.Z)}
	}
	return all
}

// meets tells whether the box meets that of a facet.
func (z zone) meets(t *bvh.Tree) bool {
	met := false
	t.VisitBox(z.least, z.most, func(int) bool {
		met = true
		return false
	})
	return met
}

// reach is how far from facet f the surface counts for its readings and those of its corners.
func (r *run) reach(f int) float64 {
	w := r.wanted[f]
	a := max(w[0], w[1], w[2])
	t := r.nominal.Facets[f]
	dev := max(math.Abs(r.vertexDev[t[0]]), math.Abs(r.vertexDev[t[1]]), math.Abs(r.vertexDev[t[2]]))
	for _, d := range r.dev[r.plan.start[f]:r.plan.start[f+1]] {
		dev = max(dev, math.Abs(d))
	}
	// A place is not further than a + dev from the surface, whether it has enough or is short.
	return 3*a + dev + Resolution
}
