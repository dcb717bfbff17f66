package field

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func solved(t testing.TB, m *mesh.Mesh, opt Options) *Result {
	t.Helper()
	r, err := Solve(context.Background(), m, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// coarse asks for coarser sums: they leave 1e-5 of the largest potential, where the panels of
// these tests leave 1e-3. Not for holes, whose flux is a small difference.
func coarse(opt Options) Options {
	opt.Degree, opt.Tolerance = 8, 1e-5
	return opt
}

func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	e := math.Abs(got/want - 1)
	t.Logf("%-34s %.6f, reference %.6f, error %.3f %%", what, got, want, 100*e)
	if !(e <= relative) {
		t.Errorf("%s = %v, want %v within %v %%", what, got, want, 100*relative)
	}
	documented(t, what, got, want)
}

// fluxAt is the flux at the vertex nearest to p, at potential 1.
func fluxAt(m *mesh.Mesh, r *Result, p r3.Vector) float64 {
	best, at := math.Inf(1), 0
	for i, v := range m.Vertices {
		if d := v.Sub(p).Norm2(); d < best {
			best, at = d, i
		}
	}
	return r.Factor[at] * r.MeanFlux
}

func TestSphereIsEven(t *testing.T) {
	r := solved(t, solid.Icosphere(2, 4), coarse(Options{AsMeshed: true}))
	// 5120 flat facets lie inside the sphere by 1e-3 of the radius in the mean at most.
	within(t, "capacitance of a sphere", r.CapacitanceMM, 2, 1e-3)
	for v, f := range r.Factor {
		if math.Abs(f-1) > 0.01 { // the icosphere's facets differ in size by a third
			t.Fatalf("factor at vertex %d = %v, want 1", v, f)
		}
	}
}

// Carlson's integral for the capacitance and the local flux of an ellipsoid:
// references 6.1.
func TestEllipsoids(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b, c     float64
		capacitance float64
		x, y, z     float64 // flux at the three tips
		level       int
	}{
		{2, 1, 1, 1.3151907222, 1.3151907222, 0.6575953611, 0.6575953611, 4},
		{2, 2, 1, 1.6539866863, 0.8269933431, 0.8269933431, 0.4134966716, 4},
		{3, 2, 1, 1.9660092007, 0.9830046004, 0.6553364002, 0.3276682001, 5},
	} {
		m := ellipsoid(c.a, c.b, c.c, c.level)
		r := solved(t, m, coarse(Options{AsMeshed: true}))
		name := fmt.Sprintf("ellipsoid %v,%v,%v: ", c.a, c.b, c.c)
		within(t, name+"capacitance", r.CapacitanceMM, c.capacitance, 0.002)
		within(t, name+"flux at the x tip", fluxAt(m, r, r3.Vector{X: c.a}), c.x, 0.01)
		within(t, name+"flux at the y tip", fluxAt(m, r, r3.Vector{Y: c.b}), c.y, 0.01)
		within(t, name+"flux at the z tip", fluxAt(m, r, r3.Vector{Z: c.c}), c.z, 0.01)
		// Everywhere, against the closed form at the vertex itself.
		var worst float64
		for i, v := range m.Vertices {
			q := c.capacitance / (c.a * c.b * c.c) / math.Sqrt(v.X*v.X/math.Pow(c.a, 4)+v.Y*v.Y/math.Pow(c.b, 4)+v.Z*v.Z/math.Pow(c.c, 4))
			worst = max(worst, math.Abs(r.Factor[i]*r.MeanFlux/q-1))
		}
		t.Logf("worst vertex %.3f %%", 100*worst)
		if worst > 0.01 {
			t.Errorf("worst local flux is off by %v %%, want 1 %%", 100*worst)
		}
	}
}

// Two equal spheres at one potential, bispherical series and images: references 6.2.
func TestTwoSpheresShieldEachOther(t *testing.T) {
	t.Parallel()
	m := solid.Merge(solid.Icosphere(1, 4), solid.Shift(solid.Icosphere(1, 4), r3.Vector{X: 3}))
	r := solved(t, m, Options{AsMeshed: true})
	within(t, "two spheres 3 apart: capacitance", r.CapacitanceMM, 1.5144087501, 0.002)
	within(t, "two spheres 3 apart: facing pole", fluxAt(m, r, r3.Vector{X: 1}), 0.3159674980, 0.03)
	within(t, "two spheres 3 apart: side", fluxAt(m, r, r3.Vector{Z: 1}), 0.8111434058, 0.03)
	within(t, "two spheres 3 apart: outer pole", fluxAt(m, r, r3.Vector{X: -1}), 0.9051246673, 0.03)
}

// Linear polarisation on a sphere: the flux falls to 1/(1+Wa), references 6.4.
func TestPolarisedSphere(t *testing.T) {
	m := solid.Icosphere(1, 4)
	for _, wa := range []float64{0.1, 1, 10} {
		r := solved(t, m, coarse(Options{AsMeshed: true, PolarisationMM: wa}))
		within(t, fmt.Sprintf("polarised sphere, Wa = %v: factor", wa), r.CapacitanceMM, 1/(1+wa), 0.005)
	}
}

// A large polarisation makes any shape even, with flux 1/L: references 6.4.
func TestLargePolarisationIsEven(t *testing.T) {
	const length = 1e5
	m := ellipsoid(3, 2, 1, 3)
	r := solved(t, m, coarse(Options{AsMeshed: true, PolarisationMM: length}))
	within(t, "mean flux times L", r.MeanFlux*length, 1, 1e-4) // the bath's own share is C/(A L) = 4e-5
	for v, f := range r.Factor {
		if math.Abs(f-1) > 1e-3 {
			t.Fatalf("factor at vertex %d = %v, want 1 within 1e-3", v, f)
		}
	}
}
