package offset

import (
	"cmp"
	"context"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/offset/grow"
)

// takeBevelled is take for a surface with split vertices; v is kept.
func (r *Result) takeBevelled(v []r3.Vector, workers int) {
	if r.bevel == nil {
		r.bevel = &mesh.Mesh{Vertices: v, Facets: r.shape.Facets, Source: make([]int32, len(r.shape.Facets))}
		for g, f := range r.shape.NominalOf {
			if r.bevel.Source[g] = int32(r.Nominal.SourceOf(int(f))); r.shape.Added[g] {
				r.bevel.Source[g] = mesh.None
			}
		}
		r.bevel.CarryFile(r.Nominal, r.shape.NominalOf)
	}
	r.Grown, r.NominalOf = r.bevel.WithVertices(v), r.shape.NominalOf
	r.follow(func() *bvh.Tree { return r.Planned.nominalTree(workers).Replaced(r.Grown, r.shape.NominalOf, workers) }, workers)
}

// movedOf returns the vertices of the grown surface, before rounding.
func (r *Result) movedOf(out *grow.Result) []r3.Vector {
	if r.shape != nil {
		return r.shape.Vertices
	}
	return out.Vertices
}

// crossingsOf finds the crossings in Grown, which is what out is rounded: those
// known of the moved nominal facets, and of what took the place of some.
func (r *Result) crossingsOf(ctx context.Context, job Job, out *grow.Result) (*bvh.Crossings, error) {
	opt := bvh.CrossingOptions{Workers: job.Workers}
	s, known := out.Surface, out.Crossings
	switch {
	case known == nil:
		return r.tree.SelfCrossings(ctx, opt)
	case s == nil:
		return known, nil
	}
	now := make([]int32, len(r.Nominal.Facets)) // number in Grown
	for f := range now {
		now[f] = mesh.None
	}
	anew := make([]bool, len(s.Facets))
	for g, f := range s.NominalOf {
		anew[g] = s.Added[g]
		for k, v := range r.Nominal.Facets[f] {
			anew[g] = anew[g] || s.Vertices[s.Facets[g][k]] != out.Vertices[v]
		}
		if !anew[g] {
			now[f] = int32(g)
		}
	}
	c, err := r.tree.SelfCrossingsNear(ctx, anew, opt)
	if err != nil {
		return nil, err
	}
	for _, p := range known.Pairs {
		if f, g := now[p[0]], now[p[1]]; f != mesh.None && g != mesh.None {
			c.Pairs = append(c.Pairs, [2]int32{f, g})
		}
	}
	slices.SortFunc(c.Pairs, func(a, b [2]int32) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	c.Total = len(c.Pairs)
	return c, nil
}

// keepShape takes s, nil for none, for the surface with split vertices.
func (r *Result) keepShape(s *grow.Surface) {
	r.shape, r.bevel, r.split = s, nil, 0
	if s != nil {
		r.split = len(s.Facets) - len(r.Nominal.Facets) + s.Gone
	}
}

// dropShape leaves of the surface with split vertices that there was one: once no
// vertex moves any more, the rest is much for nothing.
func (r *Result) dropShape() {
	if r.bevel = nil; r.shape != nil {
		r.shape = &grow.Surface{}
	}
}

// corners returns the moved vertices that the corners of every nominal facet became.
func (r *Result) corners() [][3]int32 {
	if r.shape == nil {
		return r.Nominal.Facets
	}
	return r.shape.Corners
}
