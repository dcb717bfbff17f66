package field

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/google/go-cmp/cmp"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestSameBytesForAnyWorkers(t *testing.T) {
	m := solid.Cylinder(2, 6, 40)
	var first *Result
	for _, w := range []int{1, 2, 7} {
		r := solved(t, m, Options{MaxPanels: 800, PolarisationMM: 0.3, Workers: w})
		if first == nil {
			first = r
		} else if d := cmp.Diff(first, r); d != "" {
			t.Fatalf("%d workers differ from one:\n%s", w, d)
		}
	}
}

// Turning a part moves nothing but the last digits of the tree's choices.
func TestTurnedPart(t *testing.T) {
	m := ellipsoid(2, 1.5, 1, 3)
	a := solved(t, m, Options{AsMeshed: true})
	b := solved(t, solid.Move(m, solid.Rotation{Axis: m.Vertices[7], Angle: 0.7}, m.Vertices[0].Mul(3)), Options{AsMeshed: true})
	for v := range a.Factor {
		if math.Abs(a.Factor[v]-b.Factor[v]) > 1e-4 {
			t.Fatalf("factor at vertex %d = %v, turned %v", v, a.Factor[v], b.Factor[v])
		}
	}
}

func scaleBy(k float64) func(r3.Vector) r3.Vector {
	return func(v r3.Vector) r3.Vector { return v.Mul(k) }
}

// Scaling by k scales the capacitance by k and leaves the factors.
func TestScaledPart(t *testing.T) {
	m := solid.Torus(3, 1, 36, 18)
	a := solved(t, m, Options{AsMeshed: true, PolarisationMM: 0.5})
	b := solved(t, solid.Map(m, scaleBy(1000)), Options{AsMeshed: true, PolarisationMM: 500})
	if math.Abs(b.CapacitanceMM/a.CapacitanceMM/1000-1) > 1e-6 {
		t.Errorf("capacitance %v, scaled by 1000 %v", a.CapacitanceMM, b.CapacitanceMM)
	}
	for v := range a.Factor {
		if math.Abs(a.Factor[v]-b.Factor[v]) > 1e-5 {
			t.Fatalf("factor at vertex %d = %v, scaled %v", v, a.Factor[v], b.Factor[v])
		}
	}
}

// Torus R=3, r=1 by ring functions: references 6.1.
func TestTorus(t *testing.T) {
	r := solved(t, solid.Torus(3, 1, 96, 48), coarse(Options{MaxPanels: 3000}))
	within(t, "capacitance of a torus", r.CapacitanceMM, 3.0917743676, 0.002)
}

func TestStopsWhenCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	calls := 0
	_, err := Solve(ctx, solid.Icosphere(1, 3), Options{AsMeshed: true, Progress: func(float64) {
		if calls++; calls == 3 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error = %v, want context.Canceled", err)
	}
}

func TestProgressRisesToOne(t *testing.T) {
	last := 0.0
	solved(t, solid.Icosphere(1, 2), Options{AsMeshed: true, Progress: func(v float64) {
		if v < last || v > 1 {
			t.Errorf("progress went from %v to %v", last, v)
		}
		last = v
	}})
	if last != 1 {
		t.Errorf("progress ended at %v, want 1", last)
	}
}

func TestRefusesWhatHasNoOutside(t *testing.T) {
	open := solid.Icosphere(1, 1)
	open.Facets = open.Facets[1:]
	if _, err := Solve(t.Context(), open, Options{}); !errors.Is(err, ErrOpen) {
		t.Errorf("open surface: error = %v, want ErrOpen", err)
	}
	if _, err := Solve(t.Context(), &mesh.Mesh{}, Options{}); err == nil {
		t.Error("no facets: want an error")
	}
	if _, err := Solve(t.Context(), solid.Icosphere(1, 1), Options{PolarisationMM: -1}); err == nil {
		t.Error("negative polarisation: want an error")
	}
	if _, err := Solve(t.Context(), solid.Icosphere(1, 1), Options{PolarisationMM: math.NaN()}); err == nil {
		t.Error("polarisation that is no number: want an error")
	}
	bad := solid.Icosphere(1, 1)
	bad.Vertices[3].Y = math.NaN()
	if _, err := Solve(t.Context(), bad, Options{}); err == nil {
		t.Error("vertex that is no number: want an error")
	}
}

// Current does not reach into a closed cavity: the outside is as if it were
// solid, and the cavity's own wall takes nothing.
func TestClosedCavityTakesNothing(t *testing.T) {
	out := solid.Icosphere(2, 3)
	m := solid.Merge(out, solid.Reverse(solid.Icosphere(1, 3)))
	for _, length := range []float64{0, 0.5} {
		r := solved(t, m, coarse(Options{AsMeshed: true, PolarisationMM: length}))
		s := solved(t, out, coarse(Options{AsMeshed: true, PolarisationMM: length}))
		within(t, "capacitance with a cavity", r.CapacitanceMM, s.CapacitanceMM, 1e-4)
		for f := len(out.Facets); f < len(m.Facets); f++ {
			if r.PerFacet[f] > 1e-3 {
				t.Fatalf("facet %d in the cavity: factor %v, want 0", f, r.PerFacet[f])
			}
		}
	}
}

// No flux is lost on the way to the facets, whatever the panels are.
func TestFacetsKeepTheFlux(t *testing.T) {
	m := solid.Torus(3, 1, 60, 30)
	for _, n := range []int{300, 3000} {
		r := solved(t, m, coarse(Options{MaxPanels: n}))
		var s, a float64
		for f := range m.Facets {
			s += r.PerFacet[f] * m.FacetArea(f)
			a += m.FacetArea(f)
		}
		if math.Abs(s/a-1) > 1e-9 {
			t.Errorf("%d panels: mean factor %v, want 1", n, s/a)
		}
	}
}
