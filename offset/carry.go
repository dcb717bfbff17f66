package offset

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// AtGrown returns the value that a field over Nominal has at every vertex of
// Grown. Where facets at a vertex disagree, as at a sharp edge, the largest is
// taken. The vertex of a facet that was cut while growing takes the value of
// the nearest place of the nominal facet it is a piece of; that place is off
// by no more than the facet's own slip while it moved.
func (r *Result) AtGrown(field mesh.CornerField) []float64 {
	v := make([]float64, len(r.Grown.Vertices))
	for i := range v {
		v[i] = math.Inf(-1)
	}
	for f, t := range r.Grown.Facets {
		for k, i := range t {
			x := 0.0
			if r.NominalOf == nil {
				x = field[f][k]
			} else {
				x = atNearest(r.Nominal, field, int(r.NominalOf[f]), r.Grown.Vertices[i])
			}
			v[i] = math.Max(v[i], x)
		}
	}
	for i, x := range v {
		if math.IsInf(x, -1) { // a vertex of no facet
			v[i] = 0
		}
	}
	return v
}

// atNearest returns the field's value at the place of facet f nearest to p.
func atNearest(m *mesh.Mesh, field mesh.CornerField, f int, p r3.Vector) float64 {
	a, b, c := m.Triangle(f)
	n := b.Sub(a).Cross(c.Sub(a))
	area := n.Norm2() // twice the area, squared
	if area == 0 {
		return max(field[f][0], field[f][1], field[f][2])
	}
	q := bvh.ClosestOnTriangle(p, a, b, c)
	u := b.Sub(q).Cross(c.Sub(q)).Dot(n) / area
	v := c.Sub(q).Cross(a.Sub(q)).Dot(n) / area
	return field.At(f, u, v, 1-u-v)
}
