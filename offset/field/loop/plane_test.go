package loop

import (
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/offset/field"
)

// prism is the section of an endless prism in an endless bath: a closed polygon,
// counterclockwise, one element a side. Its field is plane, and solved here by dense
// boundary elements of its own, with nothing of package field.
type prism [][2]float64

// side returns the middle of element i, its length and its outward normal.
func (p prism) side(i int) (x, y, l, nx, ny float64) {
	a, b := p[i], p[(i+1)%len(p)]
	dx, dy := b[0]-a[0], b[1]-a[1]
	l = math.Hypot(dx, dy)
	return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, l, dy / l, -dx / l
}

// factors solves V g + length (1/2 - K) g = c, sum of g l = perimeter, for the local
// factor g on every element and the constant c: far from the prism the potential is that
// of a line, whose height c only sets the total.
func (p prism) factors(t *testing.T, length float64) []float64 {
	t.Helper()
	n := len(p)
	a, rhs := mat.NewDense(n+1, n+1, nil), mat.NewVecDense(n+1, nil)
	for i := range n {
		x, y, _, _, _ := p.side(i)
		for j := range n {
			_, _, l, nx, ny := p.side(j)
			q, r := p[j], p[(j+1)%n]
			// Along the element and across it, from its first corner.
			u := ((x-q[0])*(r[0]-q[0]) + (y-q[1])*(r[1]-q[1])) / l
			h := (x-q[0])*nx + (y-q[1])*ny
			v := -(logs(l-u, h) + logs(u, h)) / (2 * math.Pi)
			var k float64
			if i != j && h != 0 {
				k = (math.Atan((l-u)/h) + math.Atan(u/h)) / (2 * math.Pi)
			}
			a.Set(i, j, v-length*k)
			if i == j {
				a.Set(i, j, v+length/2)
			}
		}
		_, _, l, _, _ := p.side(i)
		a.Set(i, n, -1)
		a.Set(n, i, l)
		rhs.SetVec(n, rhs.AtVec(n)+l)
	}
	var g mat.VecDense
	if err := g.SolveVec(a, rhs); err != nil {
		t.Fatal(err)
	}
	return g.RawVector().Data[:n]
}

// logs is the integral of ln sqrt(s^2+h^2) from 0 to s.
func logs(s, h float64) float64 {
	r := s*s + h*h
	if r == 0 {
		return 0
	}
	v := s*math.Log(r)/2 - s
	if h != 0 {
		v += h * math.Atan(s/h)
	}
	return v
}

// square is a square section of the given side with n elements a side, crowded
// towards the corners by the fourth power.
func square(side float64, n int) prism {
	var p prism
	for k := range 4 {
		s, c := math.Sincos(float64(k) * math.Pi / 2)
		for i := range n {
			u := 2*float64(i)/float64(n) - 1
			u = math.Copysign(1-math.Pow(1-math.Abs(u), 4), u) * side / 2
			x, y := side/2, u
			p = append(p, [2]float64{c*x - s*y, s*x + c*y})
		}
	}
	return p
}

// strip is the mean factor of a square of the given side over the strip of width w at a corner.
func (p prism) strip(g []float64, side, w float64) float64 {
	var sum, length float64
	for i := range p {
		x, y, l, _, _ := p.side(i)
		if math.Min(math.Abs(x), math.Abs(y)) > side/2-w {
			sum += g[i] * l
			length += l
		}
	}
	return sum / length
}

// The plane solver against closed forms: on a circle the factor is 1; on a square without
// polarisation the share of the flux between two places is that of the angles that map to
// them, dz/dzeta = sqrt(2 cos 2a) to scale; the middle of a face has 0.7627597635 of the mean
// (references 6.1).
func TestPlaneSolver(t *testing.T) {
	var ring prism
	for i := range 80 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 80)
		ring = append(ring, [2]float64{c, s})
	}
	for _, g := range ring.factors(t, 0.3) {
		if math.Abs(g-1) > 1e-9 {
			t.Fatalf("factor on a circle %v, want 1", g)
		}
	}
	p := square(10, 60)
	g := p.factors(t, 0)
	if mid := (g[29] + g[30]) / 2; math.Abs(mid/0.7627597635-1) > 2e-3 {
		t.Errorf("middle of a face %v, want 0.76276", mid)
	}
	// The share of the strips within w of the corners, by quadrature of the map.
	const n = 200000
	w := 5 * math.Pow(17./30, 4) // ends at the end of an element
	var all, to, angle float64
	for i := range n {
		all += math.Sqrt(2 * math.Cos(2*(float64(i)+0.5)/n*math.Pi/4))
	}
	for i := n - 1; to < w/5*all; i-- { // from the corner, where the map stands still
		to += math.Sqrt(2 * math.Cos(2*(float64(i)+0.5)/n*math.Pi/4))
		angle += 1. / n
	}
	if got, want := p.strip(g, 10, w), angle*5/w; math.Abs(got/want-1) > 5e-3 {
		t.Errorf("strip of %v at a corner: factor %v, want %v", w, got, want)
	}
}

// prismOf is a prism of 10 x 10 x 40 mm, refined; around its middle the current spreads as
// around an endless one.
func prismOf(t *testing.T, opt field.Options) *mesh.Mesh {
	t.Helper()
	m, err := field.Refine(t.Context(), solid.Box(r3.Vector{X: -5, Y: -5, Z: -20}, r3.Vector{X: 5, Y: 5, Z: 20}), opt)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// meanInside is the mean over the facets of the prism's middle that in picks.
func meanInside(m *mesh.Mesh, v []float64, in func(x, y float64) bool) float64 {
	var sum, area float64
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		if p := a.Add(b).Add(c).Mul(1. / 3); math.Abs(p.Z) < 8 && in(p.X, p.Y) {
			sum += v[f] * m.FacetArea(f)
			area += m.FacetArea(f)
		}
	}
	return sum / area
}

// Panels meet the flux of strips beside a sharp edge, down to a fortieth of the face: within
// 3 % without polarisation, where it grows without bound, and 1 % with.
func TestStripsBesideAnEdge(t *testing.T) {
	t.Parallel()
	const side = 10.0
	m := prismOf(t, field.Options{MaxPanels: 4000})
	section := square(side, 60)
	for _, length := range []float64{0, 0.5, 10} {
		r, err := field.Solve(t.Context(), m, field.Options{MaxPanels: 4000, PolarisationMM: length, Degree: 8, Tolerance: 1e-4, Brief: true})
		if err != nil {
			t.Fatal(err)
		}
		g := section.factors(t, length)
		whole := meanInside(m, r.PerFacet, func(x, y float64) bool { return true })
		for _, k := range []float64{14, 17, 20, 24} {
			w := side / 2 * math.Pow(k/30, 4) // ends at the end of an element
			got := meanInside(m, r.PerFacet, func(x, y float64) bool { return math.Min(math.Abs(x), math.Abs(y)) > side/2-w }) / whole
			want, most := section.strip(g, side, w), 0.01
			if length == 0 {
				most = 0.03
			}
			t.Logf("L = %v, strip of %.3f mm: %.4f, want %.4f: %.1f %%", length, w, got, want, 100*(got/want-1))
			if math.Abs(got/want-1) > most {
				t.Errorf("L = %v, strip of %.3f mm: factor %.4f, want %.4f within %v", length, w, got, want, most)
			}
		}
	}
}

// octant is an eighth of a square section, from the middle of a face to a corner's bisector.
type octant [][2]float64

// whole is the section that the octant is an eighth of.
func (o octant) whole() prism {
	quarter := prism{}
	for i := len(o) - 1; i > 0; i-- {
		quarter = append(quarter, [2]float64{o[i][0], -o[i][1]})
	}
	quarter = append(quarter, o[:len(o)-1]...)
	var p prism
	for k := range 4 {
		s, c := math.Sincos(float64(k) * math.Pi / 2)
		for _, q := range quarter {
			p = append(p, [2]float64{c*q[0] - s*q[1], s*q[0] + c*q[1]})
		}
	}
	return p
}

// spread places the octant's points anew, crowded towards the bisector.
func (o octant) spread() octant {
	n := len(o) - 1
	at := make([]float64, n+1)
	for i := range n {
		at[i+1] = at[i] + math.Hypot(o[i+1][0]-o[i][0], o[i+1][1]-o[i][1])
	}
	out := octant{o[0]}
	k := 0
	for i := 1; i < n; i++ {
		s := at[n] * (1 - math.Pow(1-float64(i)/float64(n), 1.7))
		for at[k+1] < s {
			k++
		}
		u := (s - at[k]) / (at[k+1] - at[k])
		out = append(out, [2]float64{o[k][0] + u*(o[k+1][0]-o[k][0]), o[k][1] + u*(o[k+1][1]-o[k][1])})
	}
	return append(out, o[n])
}

// dissolve lets the bath take the removal off a square in many steps.
func dissolve(t *testing.T, side, length, removal float64, n, steps int) octant {
	t.Helper()
	o := octant{}
	for i := range n + 1 {
		o = append(o, [2]float64{side / 2, side / 2 * (1 - math.Pow(1-float64(i)/float64(n), 1.7))})
	}
	done := 0.0
	for k := 1; k <= steps; k++ {
		to := removal * float64(k) / float64(steps)
		p := o.whole()
		g := p.factors(t, length)
		next := append(octant(nil), o...)
		for i := range o {
			// Element i-1+n of the section ends at point i, element i+n begins there; at the bisector by symmetry.
			_, _, _, ax, ay := p.side(n + i - 1)
			_, _, _, bx, by := p.side((n + i) % len(p))
			d := (to - done) / (1 + ax*bx + ay*by)
			ga, gb := g[n+i-1], g[(n+i)%len(p)]
			next[i][0] -= d * (ga*ax + gb*bx)
			next[i][1] -= d * (ga*ay + gb*by)
		}
		o, done = next.spread(), to
	}
	return o
}

// radius is that of a round edge which loses as much along the bisector as the dissolved
// section lost of the nominal square, beyond its faces at the given distance from the edge.
func (o octant) radius(side, beside float64) float64 {
	n := len(o) - 1
	lost := side/2*math.Sqrt2 - math.Hypot(o[n][0], o[n][1])
	var face float64
	for i := range n {
		if y := side/2 - beside; o[i][1] <= y && o[i+1][1] > y {
			face = o[i][0] + (y-o[i][1])/(o[i+1][1]-o[i][1])*(o[i+1][0]-o[i][0]) - side/2
		}
	}
	return (lost + math.Sqrt2*face) / (math.Sqrt2 - 1)
}

// The radius that sharp edges are predicted to end at, on the middle of a long prism with
// the same stock everywhere, against the plane bath run in small steps: within
// 10 %, however wide the facets. The strip's width was fitted at lengths of 0, 0.5 and 10 mm; 2 mm is between.
func TestEdgeRadius(t *testing.T) {
	t.Parallel()
	const side, removal = 10.0, 0.5
	for _, c := range []struct {
		facets int // as for so many panels
		length float64
	}{{2000, 0}, {4000, 0}, {2000, 0.5}, {2000, 2}, {2000, 10}} {
		m := prismOf(t, field.Options{MaxPanels: c.facets, StripMM: 2 * removal})
		stock := make([]float64, len(m.Facets))
		for f := range stock {
			stock[f] = removal
		}
		opt := Options{RemovalMM: removal, Field: field.Options{MaxPanels: 4000, PolarisationMM: c.length, Degree: 8, Tolerance: 1e-4}}
		if err := opt.fill(); err != nil {
			t.Fatal(err)
		}
		a, err := try(t.Context(), m, stock, nil, &opt)
		if err != nil {
			t.Fatal(err)
		}
		j := newJudge(m, removal, 0)
		j.edges = slices.DeleteFunc(j.edges, func(e edge) bool { return math.Abs(m.Vertices[e.ends[0]].Z) > 8 })
		d, _, _ := j.judge(a)
		local := removal * meanInside(m, a.factor, func(x, y float64) bool { return true })
		want := dissolve(t, side+2*removal, c.length, local, 16, 120).radius(side, besideAt*removal)
		t.Logf("L = %v, %d facets: radius %.4f, want %.4f mm", c.length, len(m.Facets), d.EdgeRadius, want)
		if math.Abs(d.EdgeRadius/want-1) > 0.10 {
			t.Errorf("L = %v, %d facets: radius %.4f mm, want %.4f within 10 %%", c.length, len(m.Facets), d.EdgeRadius, want)
		}
	}
}
