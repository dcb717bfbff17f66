package limit

import (
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func uniform(m *mesh.Mesh, a float64) mesh.CornerField {
	v := make([]float64, len(m.Facets))
	for f := range v {
		v[f] = a
	}
	return mesh.UniformPerFacet(v)
}

func mustLimit(t *testing.T, m *mesh.Mesh, w mesh.CornerField, opt Options) *Result {
	t.Helper()
	r, err := Gaps(t.Context(), m, nil, w, opt)
	if err != nil {
		t.Fatal(err)
	}
	for f := range w {
		for k := range 3 {
			if r.Field[f][k] > w[f][k] || r.Field[f][k] < 0 {
				t.Fatalf("corner %d of facet %d: %v of %v wanted", k, f, r.Field[f][k], w[f][k])
			}
		}
	}
	return r
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tol)
	}
}

// slot is two blocks w apart along x, cut into a fine grid or not.
func slot(w float64, fine int) *mesh.Mesh {
	a := solid.Box(r3.Vector{}, r3.Vector{X: 2, Y: 6, Z: 4})
	for range fine {
		a = solid.Halve(a)
	}
	return solid.Merge(a, solid.Shift(a, r3.Vector{X: 2 + w}))
}

func TestSlot(t *testing.T) {
	for _, c := range []struct {
		what        string
		width, gap  float64
		left, right float64 // wanted on the two blocks
		wantL       float64
		wantR       float64
	}{
		{"both halves", 0.5, 0.2, 0.2, 0.2, 0.15, 0.15},
		{"wide enough", 0.61, 0.2, 0.2, 0.2, 0.2, 0.2},
		{"one side masked", 0.5, 0.2, 0, 0.2, 0, 0.2},
		{"one side small", 0.5, 0.2, 0.05, 0.3, 0.05, 0.25},
		{"narrower than the gap", 0.1, 0.2, 0.2, 0.2, 0, 0},
		{"nothing to stay open", 0.3, 0, 0.2, 0.2, 0.15, 0.15},
	} {
		for fine := range 3 {
			m := slot(c.width, fine)
			half := len(m.Facets) / 2
			w := uniform(m, c.left)
			for f := half; f < len(w); f++ {
				w[f] = [3]float64{c.right, c.right, c.right}
			}
			r := mustLimit(t, m, w, Options{MinGap: c.gap})
			for f := range m.Facets {
				want, n, x := c.left, m.FacetNormal(f), m.Corner(f, 0).X
				if f >= half {
					want = c.right
				}
				switch {
				case n.X > 0.5 && math.Abs(x-2) < 1e-9:
					want = c.wantL
				case n.X < -0.5 && math.Abs(x-2-c.width) < 1e-9:
					want = c.wantR
				}
				for k := range 3 {
					// The ball is found to 1e-5 of its size.
					near(t, c.what, r.Field[f][k], want, 1e-5)
				}
			}
			short := max(c.left-c.wantL, c.right-c.wantR)
			if short == 0 {
				if len(r.Places) != 0 {
					t.Errorf("%s: %+v is missing, want nothing", c.what, r.Places)
				}
				continue
			}
			near(t, c.what+": missing", r.Places[0].Missing, short, 1e-5)
			near(t, c.what+": gap", r.Places[0].Gap, c.width, 1e-5)
			near(t, c.what+": area", r.Places[0].Area, 24, 1e-9)
			near(t, c.what+": least gap", r.LeastGap, c.width, 1e-5)
		}
	}
}

func TestRingGapAndNestedTubes(t *testing.T) {
	// A shaft of radius 3 in a bore of 3.4: a gap of 0.4; and a second ring gap of 0.3 outside.
	const n = 96
	shaft := solid.Cylinder(3, 20, n)
	tube := solid.Tube(5, 3.4, 20, n)
	outer := solid.Tube(7, 5.3, 20, n)
	m := solid.Merge(shaft, tube, outer)
	w := uniform(m, 0.2)
	r := mustLimit(t, m, w, Options{MinGap: 0.2})
	// Faces of n-gons are closer to the axis by 1 - cos(pi/n) of the radius, up to 0.003 at radius 5.3, and
	// a ball off the middle of a facet meets its neighbours' opposites.
	const tol = 0.005
	for f := range m.Facets {
		nn := m.FacetNormal(f)
		if math.Abs(nn.Z) > 0.5 {
			for k := range 3 {
				near(t, "the ends", r.Field[f][k], 0.2, 0)
			}
			continue
		}
		c := m.Corner(f, 0)
		rad := math.Hypot(c.X, c.Y)
		for k := range 3 {
			switch {
			case rad < 3.5:
				near(t, "ring gap of 0.4", r.Field[f][k], 0.1, tol)
			case rad > 4.9 && rad < 5.4:
				near(t, "ring gap of 0.3", r.Field[f][k], 0.05, tol)
			default:
				near(t, "outside", r.Field[f][k], 0.2, 0)
			}
		}
	}
	near(t, "missing", r.Places[0].Missing, 0.15, tol)
	if len(r.Places) != 4 {
		t.Errorf("%d places, want the two walls of two gaps", len(r.Places))
	}
}

func TestTwoBalls(t *testing.T) {
	const rad, gap, a, open = 5, 0.3, 0.15, 0.1
	ball := solid.Icosphere(rad, 6)
	m := solid.Merge(ball, solid.Shift(ball, r3.Vector{Z: 2*rad + gap}))
	r := mustLimit(t, m, uniform(m, a), Options{MinGap: open, MaxSlope: 0.3})
	seen := 0
	for f := range m.Facets {
		for k := range 3 {
			p := m.Corner(f, k)
			if p.Z > rad+gap/2 {
				p.Z = 2*rad + gap - p.Z
			}
			theta := math.Atan2(math.Hypot(p.X, p.Y), p.Z)
			want := a
			if theta < 1 {
				// A ball that touches one at theta and the other: (R + s) 2 cos(theta) = distance of the centres.
				s := (2*rad+gap)/(2*math.Cos(theta)) - rad
				want = min(a, max(2*s-open, 0)/2)
			}
			if want < a {
				seen++
			}
			// Facets lie up to 0.0005 inside the balls. Around a corner the least of the facets counts, and a facet comes down
			// whole: each shifts theta by up to a facet, 0.02; there the allowance changes by (R + s) tan(theta) a radian, 0.7.
			if got := r.Field[f][k]; got > want+0.001 || got < want-0.7*0.02 {
				t.Fatalf("allowance between balls at %v: %v, want %v", theta, got, want)
			}
		}
	}
	if seen < 500 {
		t.Errorf("only %d corners are limited", seen)
	}
	near(t, "missing", r.Places[0].Missing, a-(gap-open)/2, 0.002)
	near(t, "its place", r3.Vector{X: r.Places[0].At.X, Y: r.Places[0].At.Y}.Norm(), 0, 0.2)
}

// groove is a V-groove of opening angle u along y, its valley along the y axis, its walls cut fine.
func groove(u s1.Angle, depth float64, fine int) *mesh.Mesh {
	half := depth * math.Tan(u.Radians()/2)
	poly := []r3.Vector{
		{X: -half - 3, Y: -3},
		{X: half + 3, Y: -3},
		{X: half + 3, Y: depth},
		{X: half, Y: depth},
		{},
		{X: -half, Y: depth},
		{X: -half - 3, Y: depth},
	}
	m := solid.Extrude(poly, r3.Vector{Y: -1}, 6)
	m = solid.Map(m, func(v r3.Vector) r3.Vector { return r3.Vector{X: v.X, Y: -v.Z, Z: v.Y} })
	for range fine {
		m = solid.Halve(m)
	}
	return m
}

// flare is two blocks whose faces stand e apart at z = 0 and open at the angle u up to z = 3, cut fine.
func flare(e float64, u s1.Angle, fine int) *mesh.Mesh {
	half := 3 * math.Tan(u.Radians()/2)
	wall := []r3.Vector{{X: e / 2}, {X: 4 + half}, {X: 4 + half, Y: 3}, {X: e/2 + half, Y: 3}}
	m := solid.Extrude(wall, r3.Vector{X: 3, Y: 1}, 6)
	for range fine {
		m = solid.Halve(m)
	}
	right := solid.Map(m, func(v r3.Vector) r3.Vector { return r3.Vector{X: v.X, Y: -v.Z, Z: v.Y} })
	left := solid.Map(m, func(v r3.Vector) r3.Vector { return r3.Vector{X: -v.X, Y: v.Z - 6, Z: v.Y} }) // turned by half
	return solid.Merge(right, left)
}

func TestFlaredGap(t *testing.T) {
	const a, open, slope, e = 0.2, 0.1, 0.15, 0.04
	u := 30 * s1.Degree
	m := flare(e, u, 5)
	r := mustLimit(t, m, uniform(m, a), Options{MinGap: open, MaxSlope: slope})
	seen := 0
	for f := range m.Facets {
		n := m.FacetNormal(f)
		for k := range 3 {
			p := m.Corner(f, k)
			if n.Z < 0.01 || n.Z > 0.99 || math.Abs(n.Y) > 0.1 {
				continue // not a wall of the gap
			}
			// With s counted from where the walls' planes meet, the ball has 2 s tan(u/2); nothing is allowed up to
			// where that is what must stay open. From there the slope rises more slowly than the ball does (0.27).
			s := p.Z/math.Cos(u.Radians()/2) + e/2/math.Sin(u.Radians()/2)
			s0 := open / 2 / math.Tan(u.Radians()/2)
			want := min(a, max(0, slope*(s-s0)))
			seen++
			// The grid of the walls is about 0.1 fine: zero reaches one step of it less far.
			near(t, "wall of the gap", r.Field[f][k], want, slope*0.25)
			if r.Field[f][k] > max(0, (2*s*math.Tan(u.Radians()/2)-open)/2)+1e-3 {
				t.Errorf("%v leaves less than %v open", p, open)
			}
		}
	}
	if seen < 1000 {
		t.Errorf("only %d corners on the walls", seen)
	}
}

// In a groove of one body the grown walls meet in a higher valley; no stock is given up for it.
func TestGroovesAreNotLimited(t *testing.T) {
	for _, deg := range []float64{12, 20, 35, 50, 62, 90, 120} {
		for _, fine := range []int{0, 3} {
			m := groove(s1.Angle(deg)*s1.Degree, 3, fine)
			r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.2})
			if r.Lowered != 0 || len(r.Places) != 0 {
				t.Errorf("a groove of %v degrees, cut %d times, is limited on %d facets: %+v", deg, fine, r.Lowered, r.Places[0])
			}
		}
	}
}

func TestTorusHole(t *testing.T) {
	// The hole is 0.8 wide; 0.4 is wanted and 0.2 must stay open: 0.3 at its narrowest.
	m := solid.Torus(4, 3.6, 256, 128)
	r := mustLimit(t, m, uniform(m, 0.4), Options{MinGap: 0.2, MaxSlope: 1})
	least, most := math.Inf(1), 0.0
	for f := range m.Facets {
		for k := range 3 {
			p := m.Corner(f, k)
			switch rad := math.Hypot(p.X, p.Y); {
			case rad < 0.4001:
				least = min(least, r.Field[f][k])
				most = max(most, r.Field[f][k])
			case rad > 2:
				near(t, "away from the hole", r.Field[f][k], 0.4, 0)
			}
		}
	}
	// A facet is 0.18 along the hole, the torus has 3.6 mm radius: the gap varies by 0.18^2/3.6 over a facet.
	near(t, "least at the hole", least, 0.3, 0.01)
	near(t, "most at the hole", most, 0.3, 0.01)
	near(t, "least gap", r.LeastGap, 0.8, 0.01)
}

func TestBossBeforeLargeFace(t *testing.T) {
	// A small boss in front of the middle of a face of two facets: the face's corners do not see it, the boss does.
	face := solid.Box(r3.Vector{X: -20, Y: -20, Z: -2}, r3.Vector{X: 20, Y: 20})
	boss := solid.Box(r3.Vector{X: 4, Y: 5, Z: 0.5}, r3.Vector{X: 5, Y: 6, Z: 2})
	m := solid.Merge(face, boss)
	r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.2})
	on := 0.0
	for f := range m.Facets {
		if n := m.FacetNormal(f); n.Z > 0.5 && m.Corner(f, 0).Z == 0 || n.Z < -0.5 && m.Corner(f, 0).Z == 0.5 {
			for k := range 3 {
				on = max(on, r.Field[f][k])
			}
		}
	}
	// The ray from the boss meets one of the face's facets, which is lowered whole; the other one is not below the boss.
	lowered := 0
	for f := range face.Facets {
		if r.Field[f][0] < 0.151 {
			lowered++
		}
	}
	if lowered == 0 || len(r.Places) < 2 {
		t.Errorf("%d facets of the face are lowered, %d places; at most %v allowed", lowered, len(r.Places), on)
	}
	near(t, "boss and face together", r.Places[0].Missing+r.Places[1].Missing, 0.1, 1e-4)
}

func TestWorkersOrderAndMonotone(t *testing.T) {
	m := solid.Merge(solid.Icosphere(3, 4), solid.Shift(solid.Icosphere(3, 4), r3.Vector{X: 6.2}))
	var first *Result
	for _, w := range []int{1, 2, 7} {
		r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.1, Workers: w})
		if first == nil {
			first = r
		} else if !reflect.DeepEqual(first, r) {
			t.Errorf("%d workers give another result", w)
		}
	}
	last := -1.0
	for _, gap := range []float64{0.3, 0.2, 0.1, 0} {
		r := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: gap})
		sum := 0.0
		for _, w := range r.Field {
			sum += w[0] + w[1] + w[2]
		}
		if sum < last {
			t.Errorf("a smaller gap of %v leaves less stock", gap)
		}
		last = sum
	}
}

func TestInput(t *testing.T) {
	m := solid.Icosphere(1, 1)
	if _, err := Gaps(t.Context(), m, nil, uniform(m, 0.1)[1:], Options{}); !errors.Is(err, ErrInput) {
		t.Errorf("a short field: %v", err)
	}
	if _, err := Gaps(t.Context(), m, nil, uniform(m, -0.1), Options{}); !errors.Is(err, ErrInput) {
		t.Errorf("a negative allowance: %v", err)
	}
	if _, err := Gaps(t.Context(), m, nil, uniform(m, 0.1), Options{MinGap: math.NaN()}); !errors.Is(err, ErrInput) {
		t.Errorf("a gap that is no number: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Gaps(ctx, m, nil, uniform(m, 0.1), Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	r := mustLimit(t, m, uniform(m, 0), Options{MinGap: 1})
	if r.Lowered != 0 {
		t.Errorf("nothing wanted, %d facets lowered", r.Lowered)
	}
}

func BenchmarkGaps(b *testing.B) {
	h := 20.0
	body := solid.Common(solid.GyroidSheet(10, 1.5), solid.Block(r3.Vector{X: -h, Y: -h, Z: -h}, r3.Vector{X: h, Y: h, Z: h}))
	m := solid.Implicit(body, r3.Vector{X: -h - 1, Y: -h - 1, Z: -h - 1}, r3.Vector{X: h + 1, Y: h + 1, Z: h + 1}, 0.58)
	w := make(mesh.CornerField, len(m.Facets))
	for f := range w {
		w[f] = [3]float64{0.2, 0.2, 0.2}
	}
	topo := m.Topology()
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		if _, err := Gaps(b.Context(), m, topo, w, Options{MinGap: 0.2}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Facets)), "facets")
}
