package loop

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// even returns values per facet averaged by area over the facets around each,
// never across a sharp edge: a sliver's own plane says nothing about where the
// surface lies, and a correction by it would not settle. Facets of skip, nil for
// none, keep their value and give none.
func even(m *mesh.Mesh, around *mesh.Incidence, v []float64, skip []bool) []float64 {
	out := make([]float64, len(v))
	cos := math.Cos(sharpFrom.Radians())
	normal, area := make([]r3.Vector, len(v)), make([]float64, len(v))
	for f := range v {
		n := m.AreaNormal(f)
		area[f] = n.Norm() / 2
		if skip != nil && skip[f] {
			area[f] = 0
		}
		normal[f] = n.Normalize()
	}
	for f := range v {
		if skip != nil && skip[f] {
			out[f] = v[f]
			continue
		}
		sum, weight := area[f]*v[f], area[f]
		for _, c := range m.Facets[f] {
			for _, h := range around.Of(c) {
				g := int(h / 3)
				if g != f && (area[f] == 0 || normal[g].Dot(normal[f]) > cos) {
					sum += area[g] * v[g]
					weight += area[g]
				}
			}
		}
		if weight > 0 {
			out[f] = sum / weight
		}
	}
	return out
}
