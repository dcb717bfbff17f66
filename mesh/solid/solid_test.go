package solid_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// ngon is the share of a circle's area that its inscribed n-gon covers.
func ngon(n int) float64 { return float64(n) / 2 * math.Sin(2*math.Pi/float64(n)) / math.Pi }

// Every solid is closed, turned outside out, and has the volume its closed
// form gives. Round ones are inscribed: they reach the closed form times the
// n-gon's share exactly where only the turning is tessellated, and to second
// order in the steps elsewhere.
func TestSolidsMatchTheirClosedForms(t *testing.T) {
	const n = 96
	v := func(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }
	for _, c := range []struct {
		name   string
		m      *mesh.Mesh
		volume float64
		tol    float64 // relative
		euler  int
	}{
		{"box", solid.Box(v(0, 0, 0), v(20, 10, 5)), 1000, 1e-12, 2},
		{"corner tetrahedron", solid.Tetrahedron(v(0, 0, 0), v(1, 0, 0), v(0, 1, 0), v(0, 0, 1)), 1.0 / 6, 1e-12, 2},
		{"tetrahedron given inside out", solid.Tetrahedron(v(1, 0, 0), v(0, 0, 0), v(0, 1, 0), v(0, 0, 1)), 1.0 / 6, 1e-12, 2},
		{"prism", solid.Extrude([]r3.Vector{v(0, 0, 0), v(2, 0, 0), v(0, 3, 0)}, v(0.5, 0.5, 0), 4), 12, 1e-12, 2},
		{"cylinder", solid.Cylinder(5, 20, n), math.Pi * 500 * ngon(n), 1e-12, 2},
		{"tube", solid.Tube(5, 3, 20, n), math.Pi * 16 * 20 * ngon(n), 1e-12, 0},
		{"cone", solid.Cone(5, 12, n), math.Pi * 100 * ngon(n), 1e-12, 2},
		{"sphere", solid.Icosphere(10, 5), 4188.7902047864, 2e-3, 2},
		{"torus", solid.Torus(10, 3, 192, 96), 1776.5287921961, 2e-3, 0},
		{"capsule", solid.Capsule(3, 10, n, 48), 395.8406743523, 2e-3, 2},
		{"halved box", solid.Halve(solid.Box(v(0, 0, 0), v(1, 2, 3))), 6, 1e-12, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			topo := c.m.Topology()
			require.True(t, topo.Closed())
			require.InEpsilon(t, c.volume, c.m.Volume(), c.tol)
			require.Equal(t, c.euler, len(c.m.Vertices)-3*len(c.m.Facets)/2+len(c.m.Facets))
		})
	}
}

func TestImplicitBodiesAreClosed(t *testing.T) {
	v := func(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }
	ball := solid.Strut(v(0, 0, 0), v(0, 0, 1e-9), 5, 5)
	for _, c := range []struct {
		name   string
		body   solid.Body
		cell   float64
		volume float64 // mm3, 0 when there is no closed form
	}{
		{"ball", ball, 0.4, 4 * math.Pi / 3 * 125},
		{"block on the box", solid.Block(v(-9, -9, -9), v(9, 9, 9)), 0.3, 12 * 12 * 12},
		{"gyroid sheet", solid.GyroidSheet(4, 0.8), 0.35, 0},
		{"strut lattice", solid.StrutLattice(4, 0.6), 0.35, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := solid.Implicit(c.body, v(-6, -6, -6), v(6, 6, 6), c.cell)
			require.True(t, m.Topology().Closed())
			require.Positive(t, m.Volume())
			for f := range m.Facets {
				require.Positive(t, m.FacetArea(f), "facet %d", f)
			}
			if c.volume > 0 {
				// Chords and bevelled edges cost about cell^2/8 times the curvature.
				require.InEpsilon(t, c.volume, m.Volume(), 0.01)
			}
		})
	}
}
