package grow

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
)

// On a sphere whose lower half asks for more, the allowance falls over a band
// around the middle. The stock asked for by a facet ends in the plane through
// the three points corner + allowance x normal, so the moved corners must stand
// on or above that plane: it is found here from the points alone.
func TestMovedCornersStandAboveSlopedStock(t *testing.T) {
	m := solid.Icosphere(10, 5)
	a := make([]float64, len(m.Facets))
	for f := range a {
		a[f] = 0.1
		if m.FacetNormal(f).Z < 0 {
			a[f] = 0.3
		}
	}
	r, err := Grow(t.Context(), m, m.Topology(), a, Options{MaxSlope: 0.15})
	if err != nil {
		t.Fatal(err)
	}
	sloped := 0
	for f, w := range r.Allowance {
		if w[0] != w[1] || w[1] != w[2] {
			sloped++
		}
		n := m.FacetNormal(f)
		var top [3]r3.Vector
		for k := range 3 {
			top[k] = m.Corner(f, k).Add(n.Mul(w[k]))
		}
		up := top[1].Sub(top[0]).Cross(top[2].Sub(top[0])).Normalize()
		for k, v := range m.Facets[f] {
			// 1e-9: rounding of coordinates near 10 and the solver's 1e-10 of the allowance.
			if h := r.Vertices[v].Sub(top[k]).Dot(up); h < -1e-9 {
				t.Fatalf("corner %d of facet %d stands %v mm below the stock it has to carry", k, f, -h)
			}
		}
	}
	if sloped < 100 {
		t.Errorf("the allowance varies over %d facets, too few to test anything", sloped)
	}
}
