package offset

import (
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
	r.Grown.RoundToFloat32()
	r.follow(func() *bvh.Tree { return r.Planned.nominalTree(workers).Replaced(r.Grown, r.shape.NominalOf, workers) }, workers)
}

// movedOf returns the vertices of the grown surface, before rounding.
func (r *Result) movedOf(out *grow.Result) []r3.Vector {
	if r.shape != nil {
		return r.shape.Vertices
	}
	return out.Vertices
}

// bevelled returns how many facets split vertices brought.
func (r *Result) bevelled() int {
	if r.shape == nil {
		return 0
	}
	return len(r.shape.Facets) - len(r.Nominal.Facets) + r.shape.Gone
}

// corners returns the moved vertices that the corners of every nominal facet became.
func (r *Result) corners() [][3]int32 {
	if r.shape == nil {
		return r.Nominal.Facets
	}
	return r.shape.Corners
}
