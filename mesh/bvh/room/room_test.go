package room

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tol)
	}
}

func facets(t *testing.T, m *mesh.Mesh, opt Options) []Place {
	t.Helper()
	ps, err := New(bvh.New(m, 2), opt).Facets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return ps
}

func centroid(m *mesh.Mesh, f int) r3.Vector {
	a, b, c := m.Triangle(f)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

func TestSlotAndWall(t *testing.T) {
	// Two blocks 0.7 mm apart, 2 and 3 mm thick.
	const w = 0.7
	m := solid.Merge(
		solid.Box(r3.Vector{}, r3.Vector{X: 2, Y: 10, Z: 10}),
		solid.Box(r3.Vector{X: 2 + w}, r3.Vector{X: 5 + w, Y: 10, Z: 10}),
	)
	seen := 0
	for f, p := range facets(t, m, Options{}) {
		n, c := m.FacetNormal(f), centroid(m, f)
		if math.Abs(n.X) < 0.5 {
			continue
		}
		thick := 2.0
		if c.X >= 2+w {
			thick = 3
		}
		near(t, "thickness by ball", p.Behind.Ball, thick, 1e-5*thick)
		near(t, "thickness by ray", p.Behind.Ray, thick, 1e-9)
		if inner := c.X == 2 || c.X == 2+w; inner {
			seen++
			near(t, "slot by ball", p.Front.Ball, w, 1e-5*w)
			near(t, "slot by ray", p.Front.Ray, w, 1e-9)
		} else if !math.IsInf(p.Front.Ball, 1) || !math.IsInf(p.Front.Ray, 1) || p.Front.Facet != -1 {
			t.Errorf("room in front of the outside: %+v", p.Front)
		}
	}
	if seen != 4 {
		t.Errorf("%d facets in the slot, want 4", seen)
	}
}

func TestBoreAndShell(t *testing.T) {
	const n = 128
	m := solid.Tube(5, 3, 40, n)
	// A ball that touches a facet of the n-gon off its middle by delta, which is a sixth of the facet's width at
	// the centroid, meets the facet turned by the blind angle phi first: its diameter is 2 (h - delta cot(phi/2)) with h the
	// inner radius, and no ball is larger than 2 h.
	h := 3 * math.Cos(math.Pi/n)
	least := 2 * (h - 3*math.Sin(math.Pi/n)/3/math.Tan(defaultBlind.Radians()/2))
	for f, p := range facets(t, m, Options{}) {
		c, nn := centroid(m, f), m.FacetNormal(f)
		if math.Abs(nn.Z) > 0.5 || c.Z < 10 || c.Z > 30 {
			continue // the ends of the tube are in reach of the ball
		}
		if nn.Dot(r3.Vector{X: c.X, Y: c.Y}) < 0 {
			if p.Front.Ball < least-1e-5 || p.Front.Ball > 2*h+1e-5 {
				t.Fatalf("bore by ball: %v, want %v to %v", p.Front.Ball, least, 2*h)
			}
			near(t, "bore by ray", p.Front.Ray, 6, 0.001*6) // 2 h is 0.03 % less
		}
		near(t, "wall by ball", p.Behind.Ball, 2, 0.01*2)
	}
}

// groove is a V-groove of opening angle u along y in a block, its valley at the origin, its walls cut fine.
func groove(u s1.Angle, depth float64) *mesh.Mesh {
	half := depth * math.Tan(u.Radians()/2)
	a, b := r3.Vector{X: -half, Z: depth}, r3.Vector{X: half, Z: depth}
	poly := []r3.Vector{{X: -half - 3, Z: -3}, {X: half + 3, Z: -3}, {X: half + 3, Z: depth}, b, {}, a, {X: -half - 3, Z: depth}}
	for i := range poly { // into the plane z = 0 of the extrusion: z becomes y
		poly[i] = r3.Vector{X: poly[i].X, Y: poly[i].Z}
	}
	m := solid.Extrude(poly, r3.Vector{Y: -1}, 20)
	m = solid.Map(m, func(v r3.Vector) r3.Vector { return r3.Vector{X: v.X, Y: -v.Z, Z: v.Y} })
	for range 3 {
		m = solid.Halve(m)
	}
	return m
}

func TestGroove(t *testing.T) {
	for _, deg := range []float64{20, 40, 60, 80} {
		u := s1.Angle(deg) * s1.Degree
		m := groove(u, 4)
		ps := facets(t, m, Options{})
		seen := 0
		for f, p := range ps {
			c, n := centroid(m, f), m.FacetNormal(f)
			if c.Z <= 0 || math.Abs(n.Y) > 0.1 || n.Z < 0.01 || n.Z > 0.99 || c.Y < -15 || c.Y > -5 {
				continue
			}
			s := math.Hypot(c.X, c.Z)
			// Tangent to both walls at s from the valley, as long as it touches below the rims.
			want := 2 * s * math.Tan(u.Radians()/2)
			if s > 3.9 {
				continue
			}
			seen++
			near(t, "ball in the groove", p.Front.Ball, want, 1e-4*want)
			if r := s * math.Tan(u.Radians()); c.Z+r*n.Z < 3.9 { // the ray's foot is below the rim
				near(t, "ray in the groove", p.Front.Ray, r, 1e-6)
			}
		}
		if seen < 50 {
			t.Errorf("only %d facets in the groove of %v degrees", seen, deg)
		}
		// Opposite only above 120 degrees between normals: an opening below 60.
		facing := 0
		for f, p := range facets(t, m, Options{Blind: 119.5 * s1.Degree}) {
			if c := centroid(m, f); c.Z > 0.01 && !math.IsInf(p.Front.Ball, 1) && m.FacetNormal(f).Z > 0.01 {
				facing++
			}
		}
		if (facing > 0) != (deg <= 60) {
			t.Errorf("opening %v degrees: %d facets face another", deg, facing)
		}
	}
}

func TestTwoBallsAndTorusHole(t *testing.T) {
	const gap = 0.3
	ball := solid.Icosphere(5, 6)
	m := solid.Merge(ball, solid.Shift(ball, r3.Vector{Z: 10 + gap}))
	g := New(bvh.New(m, 2), Options{Most: 2})
	least := math.Inf(1)
	for f := range m.Facets {
		if c := centroid(m, f); math.Hypot(c.X, c.Y) < 0.5 && c.Z > 0 && c.Z < 10 {
			least = min(least, g.Front(c, g.Normal(f)).Ball)
		}
	}
	near(t, "two balls", least, gap, 0.01*gap)

	// The hole of a torus: 2 (R - r) wide.
	tor := solid.Torus(4, 3.6, 192, 96)
	g = New(bvh.New(tor, 2), Options{})
	least = math.Inf(1)
	for f := range tor.Facets {
		if c := centroid(tor, f); math.Hypot(c.X, c.Y) < 0.41 && math.Abs(c.Z) < 0.15 {
			d := g.Front(c, g.Normal(f))
			least = min(least, d.Ball)
			near(t, "hole of the torus by ray", d.Ray, 0.8, 0.02) // facets up to 0.12 off the middle look slightly up or down
		}
	}
	near(t, "hole of the torus", least, 0.8, 0.01*0.8)
}

func TestRoughSlot(t *testing.T) {
	// A slot of 0.5 mm whose walls are uneven by 2 um on a grid of 0.1 mm: normals turn by some degrees.
	const w, noise = 0.5, 0.002
	r := rand.New(rand.NewPCG(5, 6))
	wall := solid.Box(r3.Vector{}, r3.Vector{X: 3, Y: 3, Z: 1})
	for range 5 {
		wall = solid.Halve(wall)
	}
	m := solid.Merge(wall, solid.Shift(wall, r3.Vector{Z: 1 + w}))
	for i := range m.Vertices {
		m.Vertices[i].Z += noise * (2*r.Float64() - 1)
	}
	var got []float64
	for f, p := range facets(t, m, Options{}) {
		c := centroid(m, f)
		if math.Abs(c.X-1.5) > 1 || math.Abs(c.Y-1.5) > 1 || math.Abs(m.FacetNormal(f).Z) < 0.5 {
			continue
		}
		if c.Z > 0.9 && c.Z < 1.1 || c.Z > 1.4 && c.Z < 1.6 {
			got = append(got, p.Front.Ball)
			if p.Front.Ball < w-2*noise-0.01*w || p.Front.Ball > w+2*noise+1e-9 {
				t.Fatalf("room %v in a slot of %v with %v noise on each side", p.Front.Ball, w, noise)
			}
		}
	}
	if len(got) < 500 {
		t.Errorf("only %d facets in the slot", len(got))
	}
}

func TestBallByAnyWorkers(t *testing.T) {
	m := solid.Tube(5, 3, 20, 64)
	var first []Place
	for _, w := range []int{1, 2, 7} {
		ps, err := New(bvh.New(m, w), Options{Workers: w}).Facets(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = ps
		} else if !reflect.DeepEqual(first, ps) {
			t.Errorf("%d workers measure differently", w)
		}
	}
	ball := solid.Icosphere(5, 4)
	ps, err := New(bvh.New(ball, 1), Options{}).Facets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for f, p := range ps {
		// Facets lie up to a sagitta of 0.15 % of R below the sphere: the ball meets them, at the blind
		// angle of 60 degrees first, by 2 sag / (1 - cos 60) = 0.03 earlier, and more where they tilt.
		near(t, "thickness of a ball", p.Behind.Ball, 2*centroid(ball, f).Norm(), 0.1)
		if !math.IsInf(p.Front.Ball, 1) {
			t.Fatalf("room %v in front of a ball", p.Front.Ball)
		}
	}
}

func BenchmarkFacets(b *testing.B) {
	h := 20.0
	body := solid.Common(solid.GyroidSheet(10, 1.5), solid.Block(r3.Vector{X: -h, Y: -h, Z: -h}, r3.Vector{X: h, Y: h, Z: h}))
	m := solid.Implicit(body, r3.Vector{X: -h - 1, Y: -h - 1, Z: -h - 1}, r3.Vector{X: h + 1, Y: h + 1, Z: h + 1}, 0.58)
	t := bvh.New(m, 0)
	for _, c := range []struct {
		name string
		opt  Options
	}{{"all", Options{}}, {"1mm", Options{Most: 1}}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				if _, err := New(t, c.opt).Facets(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(m.Facets)), "facets")
		})
	}
}
