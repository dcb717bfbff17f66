package limit

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// annular is a round block of one body with a ring slot from above: walls at radius 4 and 4 + w.
func annular(w, depth float64, n int) *mesh.Mesh {
	return solid.Revolve([]solid.Ring{{R: 0, Z: -5}, {R: 8, Z: -5}, {R: 8, Z: 0}, {R: 4 + w, Z: 0}, {R: 4 + w, Z: -depth}, {R: 4, Z: -depth}, {R: 4, Z: 0}, {R: 0, Z: 0}}, n)
}

// The walls of a deep slot are one body with its floor and yet must stay apart.
func TestSlotOfOneBody(t *testing.T) {
	const w, a, open = 0.5, 0.2, 0.3
	for _, fine := range []int{0, 2} {
		m := annular(w, 3, 128)
		for range fine {
			m = solid.Halve(m)
		}
		r := mustLimit(t, m, uniform(m, a), Options{MinGap: open})
		for f := range m.Facets {
			n := m.FacetNormal(f)
			for k := range 3 {
				p := m.Corner(f, k)
				rad := math.Hypot(p.X, p.Y)
				if math.Abs(n.Z) > 0.1 || rad > 4.6 || p.Z < -2.9 {
					continue // not a wall, or at the floor, where it may fill up
				}
				// Facets of the 128 steps lie up to 4.5 (1 - cos(pi/128)) = 0.0014 inside their circles.
				near(t, "wall of the slot", r.Field[f][k], (w-open)/2, 0.003)
			}
		}
		near(t, "missing", r.Places[0].Missing, a-(w-open)/2, 0.003)
		near(t, "least gap", r.LeastGap, w, 0.003)
	}
}

// A scratch less deep than half of the width that matters fills up.
func TestShallowScratch(t *testing.T) {
	for _, fine := range []int{0, 2} {
		m := annular(0.1, 0.2, 128)
		for range fine {
			m = solid.Halve(m)
		}
		if r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.3}); r.Lowered != 0 {
			t.Errorf("a scratch is limited on %d facets: %+v", r.Lowered, r.Places[0])
		}
	}
}

// A bore must stay open though its wall is short from one side to the other.
func TestNarrowBore(t *testing.T) {
	const r0, a, open = 0.25, 0.2, 0.3
	for _, n := range []int{24, 96} {
		for fine := range 2 {
			m := solid.Tube(3, r0, 6, n)
			for range fine {
				m = solid.Halve(m)
			}
			r := mustLimit(t, m, uniform(m, a), Options{MinGap: open, MaxSlope: 1})
			seen := 0
			for f := range m.Facets {
				nn := m.FacetNormal(f)
				for k := range 3 {
					if p := m.Corner(f, k); math.Abs(nn.Z) < 0.1 && math.Hypot(p.X, p.Y) < 1 {
						seen++
						// A ball that touches the end of a facet of width e is smaller across by up to e cot(120 deg / 2), and
						// flats lie up to r0 (1 - cos(pi/n)) inside the circle.
						near(t, "wall of the bore", r.Field[f][k], (2*r0-open)/2, math.Pi*r0/float64(n)/math.Sqrt(3)+r0*(1-math.Cos(math.Pi/float64(n))))
					}
				}
			}
			if seen < 100 || len(r.Places) == 0 {
				t.Errorf("%d corners on the wall, %d places", seen, len(r.Places))
			}
		}
	}
}

// Struts that meet at 30 degrees, as a marching mesher leaves them, lose no stock in
// their crotch; struts that pass each other at 0.2 mm do.
func TestVoxelBornStruts(t *testing.T) {
	mesh := func(b solid.Body) *mesh.Mesh {
		return solid.Implicit(b, r3.Vector{X: -6, Y: -2.5, Z: -6}, r3.Vector{X: 6, Y: 2.5, Z: 6}, 0.2)
	}
	up := solid.Strut(r3.Vector{X: -1.2, Z: -4.5}, r3.Vector{X: 1.2, Z: 4.5}, 0.7, 0.7)
	down := func(y float64) solid.Body {
		return solid.Strut(r3.Vector{X: 1.2, Y: y, Z: -4.5}, r3.Vector{X: -1.2, Y: y, Z: 4.5}, 0.7, 0.7)
	}
	m := mesh(solid.Union(up, down(0)))
	r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.3})
	if r.Lowered != 0 {
		t.Errorf("the crotch is limited on %d facets of %d: %+v", r.Lowered, len(m.Facets), r.Places[0])
	}
	m = mesh(solid.Union(up, down(1.6)))
	r = mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.3})
	if len(r.Places) != 2 {
		t.Fatalf("%d places, want one on each strut: %+v", len(r.Places), r.Places)
	}
	// The rods' facets of 0.2 mm lie up to 0.2^2/8/0.7 = 0.007 inside, either way of the gap.
	near(t, "least gap", r.LeastGap, 0.2, 0.02)
	near(t, "missing", r.Places[0].Missing, 0.2, 0.02)
}
