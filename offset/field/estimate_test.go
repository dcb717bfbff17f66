package field

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// gapTo is the mean of a's and b's difference per facet over the area.
func gapTo(m *mesh.Mesh, a, b []float64) float64 {
	var s, w float64
	for f := range m.Facets {
		s += m.FacetArea(f) * math.Abs(a[f]-b[f])
		w += m.FacetArea(f)
	}
	return s / w
}

// The error estimate against the true error: a fine solution where no closed form exists.
func TestErrorEstimateIsHonest(t *testing.T) {
	t.Parallel()
	cube, err := Refine(t.Context(), solid.Box(r3.Vector{}, r3.Vector{X: 1, Y: 1, Z: 1}), Options{MaxPanels: 8000})
	if err != nil {
		t.Fatal(err)
	}
	smooth := ellipsoid(3, 2, 1, 5)
	exact := make([]float64, len(smooth.Facets))
	for f := range exact {
		x, y, z := smooth.Triangle(f)
		v := x.Add(y).Add(z).Mul(1. / 3)
		v = v.Mul(1 / math.Sqrt(v.X*v.X/9+v.Y*v.Y/4+v.Z*v.Z))
		exact[f] = 1.9660092007 / 6 / math.Sqrt(v.X*v.X/81+v.Y*v.Y/16+v.Z*v.Z) / 0.5054115279
	}
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		exact []float64
	}{
		{"cube", cube, solved(t, cube, coarse(Options{AsMeshed: true})).PerFacet},
		{"ellipsoid", smooth, exact},
	} {
		for _, n := range []int{600, 2400} {
			r := solved(t, c.m, coarse(Options{MaxPanels: n}))
			truth := gapTo(c.m, r.PerFacet, c.exact)
			t.Logf("%s, %d panels: estimate %.4f, true %.4f; energy gap %.2e", c.name, r.Panels, r.ErrorEstimate, truth, r.Balance.Energy)
			if r.ErrorEstimate < truth/2 || r.ErrorEstimate > truth*5 {
				t.Errorf("%s, %d panels: estimate %v, true error %v: want within 1/2 and 5 times", c.name, r.Panels, r.ErrorEstimate, truth)
			}
		}
	}
}

// Order of convergence on two refinements: second on smooth bodies, where halved
// panels also come nearer to the shape.
func TestConvergenceOrder(t *testing.T) {
	t.Parallel()
	var e [3]float64
	for i := range e {
		r := solved(t, ellipsoid(2, 1, 1, i+2), coarse(Options{AsMeshed: true}))
		e[i] = math.Abs(r.CapacitanceMM/1.3151907222 - 1)
	}
	for i := 1; i < 3; i++ {
		order := math.Log2(e[i-1] / e[i])
		t.Logf("error %.2e to %.2e: order %.2f", e[i-1], e[i], order)
		if order < 1.8 {
			t.Errorf("order of the capacitance = %v, want 2", order)
		}
	}
	// The cube's graded panels: the error falls at least like 1/panels.
	m := solid.Box(r3.Vector{}, r3.Vector{X: 1, Y: 1, Z: 1})
	var first, panels float64
	for _, n := range []int{600, 9600} {
		r := solved(t, m, coarse(Options{MaxPanels: n}))
		err := math.Abs(r.CapacitanceMM/0.66067815 - 1)
		t.Logf("cube, %d panels: error %.2e", r.Panels, err)
		if first == 0 {
			first, panels = err, float64(r.Panels)
			continue
		}
		order := math.Log(first/err) / math.Log(float64(r.Panels)/panels)
		if t.Logf("order in the panels %.2f", order); order < 0.9 {
			t.Errorf("order of the cube = %v, want 1", order)
		}
	}
}
