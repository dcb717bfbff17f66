package field

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// only keeps the facets of m that a rule picks by their normal and middle.
func only(m *mesh.Mesh, pick func(n, p r3.Vector) bool) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for f, t := range m.Facets {
		a, b, c := m.Triangle(f)
		if pick(m.FacetNormal(f), a.Add(b).Add(c).Mul(1./3)) {
			out.Facets = append(out.Facets, t)
		}
	}
	return out
}

// marks are the facets that a rule picks by their normal.
func marks(m *mesh.Mesh, pick func(n r3.Vector) bool) []bool {
	out := make([]bool, len(m.Facets))
	for f := range out {
		out[f] = pick(m.FacetNormal(f))
	}
	return out
}

// Concentric spheres, the outer one grounded: q = 1/(a(1-a/b)+L), references 6.3
// and 6.4; the total flux over 4 pi is the capacitance ab/(b-a).
func TestSphereInAVessel(t *testing.T) {
	t.Parallel()
	vessel := []Wall{{Mesh: solid.Reverse(solid.Icosphere(2, 4))}}
	for _, c := range []struct{ length, want float64 }{{0, 2}, {0.5, 1}} {
		r := solved(t, solid.Icosphere(1, 4), coarse(Options{AsMeshed: true, Walls: vessel, PolarisationMM: c.length}))
		// Flat facets bring both radii in by up to 1e-3 of themselves.
		within(t, fmt.Sprintf("sphere in a vessel, L = %v: flux", c.length), r.MeanFlux, c.want, 0.003)
		within(t, fmt.Sprintf("sphere in a vessel, L = %v: capacitance", c.length), r.CapacitanceMM, c.want, 0.004)
		for v, f := range r.Factor {
			if math.Abs(f-1) > 0.01 { // as in an endless bath
				t.Fatalf("factor at vertex %d = %v, want 1", v, f)
			}
		}
	}
}

// tube is a surface of revolution from z = -h to h of the given radius, closed by discs.
func tube(radius, h float64, n, sectors int) *mesh.Mesh {
	p := []solid.Ring{{R: 0, Z: -h}}
	for i := range n + 1 {
		p = append(p, solid.Ring{R: radius, Z: h * (2*float64(i)/float64(n) - 1)})
	}
	return solid.Revolve(append(p, solid.Ring{R: 0, Z: h}), sectors)
}

// Coaxial cylinders, references 6.3 and 6.4: 1/(a ln(b/a)+L). The ends of the rod
// and the lids of the can are insulated, so that every plane across is one of symmetry
// but for the gap between rod and lid, 5 gaps between the walls away from the middle.
func TestRodInACan(t *testing.T) {
	t.Parallel()
	const sectors = 48
	rod, can := tube(1, 6, 48, sectors), solid.Reverse(tube(2, 6.2, 30, sectors))
	lid := func(n r3.Vector) bool { return math.Abs(n.Z) > 0.5 }
	walls := []Wall{
		{Mesh: only(can, func(n, _ r3.Vector) bool { return !lid(n) })},
		{Mesh: only(can, func(n, _ r3.Vector) bool { return lid(n) }), Insulated: true},
	}
	for _, c := range []struct{ length, want float64 }{{0, 1.4426950409}, {0.5, 0.8381195684}} {
		r := solved(t, rod, coarse(Options{AsMeshed: true, Walls: walls, PolarisationMM: c.length, Insulated: marks(rod, lid)}))
		middle := meanWhere(rod, r, func(p r3.Vector) bool { return math.Abs(p.Z) < 1 })
		// 48 flat sides lie inside the circle by 0.1 % of the radius, for both alike.
		within(t, fmt.Sprintf("coaxial cylinders, L = %v: flux", c.length), middle, c.want, 0.01)
		for f, shut := range marks(rod, lid) {
			if shut && r.PerFacet[f] != 0 {
				t.Fatalf("facet %d is insulated and has factor %v, want 0", f, r.PerFacet[f])
			}
		}
		var sum, area float64
		for f, shut := range marks(rod, lid) {
			if !shut {
				sum += rod.FacetArea(f) * r.PerFacet[f]
				area += rod.FacetArea(f)
			}
		}
		within(t, "mean factor of what is bare", sum/area, 1, 1e-6)
	}
}

// A long rod of radius 1 with its axis 2 above a grounded plate takes 2 pi/acosh(2)
// a length, references 6.3: 1/acosh(2) in the mean around, and by bipolar
// coordinates sqrt(3)/2 +- 1/4 for the potential difference acosh(2), over it.
func TestRodOverAPlate(t *testing.T) {
	t.Parallel()
	leftToCI(t, "rod over a plate: mean", "rod over a plate: 3 radii above it")
	rod := tube(1, 12, 40, 48)
	plate, err := Refine(t.Context(), solid.Box(r3.Vector{X: -9, Y: -2.2, Z: -13}, r3.Vector{X: 9, Y: -2, Z: 13}), Options{MaxPanels: 5000})
	if err != nil {
		t.Fatal(err)
	}
	r := solved(t, rod, coarse(Options{AsMeshed: true, Walls: []Wall{{Mesh: plate}}, Insulated: marks(rod, func(n r3.Vector) bool { return math.Abs(n.Z) > 0.5 })}))
	at := func(y float64) float64 {
		return meanWhere(rod, r, func(p r3.Vector) bool { return math.Abs(p.Z) < 2 && math.Abs(p.Y-y) < 0.01 })
	}
	// The rod is 6 times as long as its distance from its image, the plate 4 times as broad.
	within(t, "rod over a plate: mean", meanWhere(rod, r, func(p r3.Vector) bool { return math.Abs(p.Z) < 2 }), 1/math.Acosh(2), 0.02)
	// q = sqrt(3)/((2 - cos) acosh 2) with the angle taken from the plate: 1/(cosh(tau) - cos(sigma)) on
	// the circle is the distance's law, and 2 + y is the height of a place over the plate.
	for _, y := range []float64{-1, 1} {
		within(t, fmt.Sprintf("rod over a plate: %v radii above it", 2+y), at(0.998*y), math.Sqrt(3)/((2+y)*math.Acosh(2)), 0.03)
	}
}

// Insulation is refused where it leaves nothing, or does not fit.
func TestBadInsulation(t *testing.T) {
	m := solid.Icosphere(1, 1)
	all := marks(m, func(r3.Vector) bool { return true })
	for _, shut := range [][]bool{all, all[1:]} {
		if _, err := Solve(t.Context(), m, Options{Insulated: shut}); err == nil {
			t.Errorf("%d of %d facets insulated: want an error", len(shut), len(m.Facets))
		}
	}
}
