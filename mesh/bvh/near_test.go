package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// Everything near a line is visited, whether the tree is widened or not: on places
// all along the line nothing is nearer than the facets visited. Along flat skin the
// widened tree visits little else.
func TestVisitNearMissesNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2))
	wave := solid.Implicit(solid.GyroidSheet(8, 1.2), r3.Vector{X: -6, Y: -6, Z: -6}, r3.Vector{X: 6, Y: 6, Z: 6}, 0.6)
	for name, m := range map[string]*mesh.Mesh{"soup": soup(r, 2000), "sphere": solid.Icosphere(3, 4), "gyroid": wave} {
		for _, widened := range []bool{false, true} {
			tree := New(m, 1)
			if widened {
				tree.Widen(1)
			}
			met := 0
			for range 25 {
				p := m.Vertices[r.IntN(len(m.Vertices))]
				a := p.Add(r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Mul(0.3))
				b := a.Add(r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Mul(2 * r.Float64()))
				rad := r.Float64()
				got := make(map[int]bool)
				tree.VisitNear(a, b, rad, func(f int) { got[f] = true })
				for f := range m.Facets {
					u, v, w := m.Triangle(f)
					near := math.Inf(1)
					for i := range 9 {
						q := a.Add(b.Sub(a).Mul(float64(i) / 8))
						near = min(near, distance2(&q, &u, &v, &w, math.Inf(1)))
					}
					if near <= rad*rad {
						met++
						if !got[f] {
							t.Fatalf("%s, widened %v: facet %d, %.3g mm from the line from %v to %v, is not visited within %.3g", name, widened, f, math.Sqrt(near), a, b, rad)
						}
					}
				}
			}
			if met < 25 {
				t.Fatalf("%s: only %d facets near the lines", name, met)
			}
		}
	}
}
