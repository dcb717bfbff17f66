package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// soup returns n triangles without any order: needles, points and grid triangles among them.
func soup(r *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	vertex := func(v r3.Vector) int32 {
		m.Vertices = append(m.Vertices, v)
		return int32(len(m.Vertices) - 1)
	}
	at := func(s float64) r3.Vector {
		return r3.Vector{X: s * (2*r.Float64() - 1), Y: s * (2*r.Float64() - 1), Z: s * (2*r.Float64() - 1)}
	}
	for i := range n {
		o := at(10)
		size := math.Pow(10, 2*r.Float64()-1)
		a, b, c := o.Add(at(size)), o.Add(at(size)), o.Add(at(size))
		switch i % 6 {
		case 1: // needle
			c = b.Add(at(1e-7))
		case 2: // cap: the third corner nearly on the opposite edge
			c = a.Add(b).Mul(0.5).Add(at(1e-6))
		case 3: // a point
			b, c = a, a
		case 4: // flat, on a grid
			for _, p := range []*r3.Vector{&a, &b, &c} {
				*p = r3.Vector{X: math.Round(p.X), Y: math.Round(p.Y), Z: 2}
			}
		}
		m.Facets = append(m.Facets, [3]int32{vertex(a), vertex(b), vertex(c)})
	}
	return m
}

// segmentDistance is the distance of p from the segment a b by golden-section
// search: slow, and unlike the package's own way.
func segmentDistance(p, a, b r3.Vector) float64 {
	lo, hi := 0.0, 1.0
	at := func(t float64) float64 { return p.Distance(a.Mul(1 - t).Add(b.Mul(t))) }
	for range 50 {
		m1, m2 := lo+(hi-lo)*0.381966, lo+(hi-lo)*0.618034
		if at(m1) < at(m2) {
			hi = m2
		} else {
			lo = m1
		}
	}
	return at((lo + hi) / 2)
}

// slowDistance is the distance of p from a facet: the plane's when the foot is
// inside by the angles it sees, else that of the nearest edge.
func slowDistance(p, a, b, c r3.Vector) float64 {
	d := min(segmentDistance(p, a, b), segmentDistance(p, b, c), segmentDistance(p, c, a))
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Norm() <= 1e-7*b.Distance(a)*c.Distance(a) { // equal when two corners coincide
		return d
	}
	n = n.Normalize()
	foot := p.Sub(n.Mul(n.Dot(p.Sub(a))))
	angle := func(u, v r3.Vector) float64 {
		return math.Atan2(n.Dot(u.Sub(foot).Cross(v.Sub(foot))), u.Sub(foot).Dot(v.Sub(foot)))
	}
	if math.Abs(angle(a, b)+angle(b, c)+angle(c, a)) > math.Pi {
		d = min(d, math.Abs(n.Dot(p.Sub(a))))
	}
	return d
}

func TestClosestAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		m := soup(r, rapid.IntRange(1, 80).Draw(rt, "facets"))
		tree := New(m, 2)
		for range 4 {
			p := r3.Vector{X: 30 * (r.Float64() - 0.5), Y: 30 * (r.Float64() - 0.5), Z: 30 * (r.Float64() - 0.5)}
			want := math.Inf(1)
			for f := range m.Facets {
				a, b, c := m.Triangle(f)
				want = min(want, slowDistance(p, a, b, c))
			}
			h := tree.Closest(p, NoHint)
			// 1e-7: golden-section search finds a minimum to the root of the rounding, 1e-8 of lengths near 10;
			// caps of height 1e-6 and less are taken as flat, wrong by 1e-8 of their size.
			if math.Abs(h.Dist-want) > 1e-7 {
				rt.Fatalf("Closest(%v) is at %v, brute force says %v", p, h.Dist, want)
			}
			a, b, c := m.Triangle(h.Facet)
			if q := a.Mul(h.Bary[0]).Add(b.Mul(h.Bary[1])).Add(c.Mul(h.Bary[2])); q.Distance(h.Point) > 1e-6 {
				rt.Fatalf("the weights %v of facet %d give %v, the point is %v", h.Bary, h.Facet, q, h.Point)
			}
			hint := r.IntN(len(m.Facets))
			if g := tree.Closest(p, hint); g != h {
				rt.Fatalf("with hint %d %+v, without %+v", hint, g, h)
			}
			if _, ok := tree.ClosestWithin(p, h.Dist*0.999, NoHint); ok && h.Dist > 0 {
				rt.Fatalf("found something within 0.999 of the least distance")
			}
		}
	})
}

func TestClosestFeatures(t *testing.T) {
	m := &mesh.Mesh{Vertices: []r3.Vector{{X: 0}, {X: 3}, {Y: 4}}, Facets: [][3]int32{{0, 1, 2}}}
	tree := New(m, 1)
	for _, c := range []struct {
		p    r3.Vector
		f    Feature
		k    int
		dist float64
	}{
		{r3.Vector{X: 1, Y: 1, Z: 2}, Face, 0, 2},
		{r3.Vector{X: 1, Y: -2}, Edge, 0, 2},
		{r3.Vector{X: 1.5 + 4, Y: 2 + 3}, Edge, 1, 5},
		{r3.Vector{X: -2, Y: 1}, Edge, 2, 2},
		{r3.Vector{X: -3, Y: -4}, Corner, 0, 5},
		{r3.Vector{X: 6, Y: -4}, Corner, 1, 5},
		{r3.Vector{X: 0, Y: 4, Z: 9}, Corner, 2, 9},
	} {
		h := tree.Closest(c.p, NoHint)
		if h.Feature != c.f || h.K != c.k {
			t.Errorf("%v: feature %v %d, want %v %d", c.p, h.Feature, h.K, c.f, c.k)
		}
		if math.Abs(h.Dist-c.dist) > 1e-12 {
			t.Errorf("%v: distance %v, want %v", c.p, h.Dist, c.dist)
		}
	}
}

func TestSignedDistanceOfSphereAndBox(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 3))
	ball := solid.Icosphere(5, 4)
	box := solid.Box(r3.Vector{X: -3, Y: -2, Z: -1}, r3.Vector{X: 3, Y: 2, Z: 1})
	bs, xs := New(ball, 2).Signs(nil), New(box, 2).Signs(nil)
	// The facets of the ball are inside it by the sagitta of the longest edge.
	var edge float64
	for f := range ball.Facets {
		edge = max(edge, ball.Corner(f, 0).Distance(ball.Corner(f, 1)))
	}
	sag := edge * edge / 3 / (2 * 5) * 1.05 // circumradius edge/sqrt(3) of an equilateral facet; 5 % for the other shapes
	for range 3000 {
		p := r3.Vector{X: 14 * (r.Float64() - 0.5), Y: 14 * (r.Float64() - 0.5), Z: 14 * (r.Float64() - 0.5)}
		want := p.Norm() - 5
		if _, d := bs.Closest(p, NoHint); d < want-1e-12 || d > want+sag {
			t.Fatalf("ball: %v at %v, want %v to %v", p, d, want, want+sag)
		}
		q := r3.Vector{X: math.Abs(p.X) - 3, Y: math.Abs(p.Y) - 2, Z: math.Abs(p.Z) - 1}
		in := max(q.X, q.Y, q.Z)
		want = in
		if in > 0 {
			want = r3.Vector{X: max(q.X, 0), Y: max(q.Y, 0), Z: max(q.Z, 0)}.Norm()
		}
		if _, d := xs.Closest(p, NoHint); math.Abs(d-want) > 1e-12 {
			t.Fatalf("box: %v at %v, want %v", p, d, want)
		}
	}
}

func TestRaysAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 2))
		m := soup(r, rapid.IntRange(1, 80).Draw(rt, "facets"))
		tree := New(m, 2)
		for i := range 8 {
			o := r3.Vector{X: 50 * (r.Float64() - 0.5), Y: 50 * (r.Float64() - 0.5), Z: 50 * (r.Float64() - 0.5)}
			at := m.Vertices[r.IntN(len(m.Vertices))].Add(r3.Vector{X: 0.2 * (r.Float64() - 0.5), Y: 0.2 * (r.Float64() - 0.5)})
			d := at.Sub(o)
			if i%3 == 0 { // along an axis
				d = r3.Vector{Z: 1}
				o.X, o.Y = at.X, at.Y
			}
			var want []RayHit
			for f := range m.Facets {
				a, b, c := m.Triangle(f)
				if u, side := meet(&o, &d, &a, &b, &c); side != 0 && u >= -1 && u <= 40 {
					want = append(want, RayHit{f, u, side})
				}
			}
			slices.SortFunc(want, func(a, b RayHit) int {
				if a.T != b.T {
					return int(math.Copysign(1, a.T-b.T))
				}
				return a.Facet - b.Facet
			})
			got := tree.AppendHits(nil, o, d, -1, 40)
			if !slices.Equal(got, want) {
				rt.Fatalf("ray %v %v: %v, brute force %v", o, d, got, want)
			}
			first, ok := tree.Ray(o, d, -1, 40)
			if ok != (len(want) > 0) || ok && first != want[0] {
				rt.Fatalf("ray %v %v: first %v, want %v", o, d, first, want)
			}
		}
	})
}

// meetSolved is the ray's hit by Cramer's rule on another arrangement of the equations.
func TestMeetAgainstLinearSolve(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	v := func() r3.Vector { return r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()} }
	hits := 0
	for range 20000 {
		o, d, a, b, c := v(), v(), v(), v(), v()
		e, f, s := b.Sub(a), c.Sub(a), o.Sub(a)
		det := e.Dot(d.Cross(f)) // s + T d = u e + v f
		u, w, tt := s.Dot(d.Cross(f))/det, d.Dot(s.Cross(e))/det, f.Dot(s.Cross(e))/det
		if min(u, w, 1-u-w) > -1e-9 && min(u, w, 1-u-w) < 1e-9 || math.Abs(det) < 1e-6 {
			continue // on the rim both may be right
		}
		got, side := meet(&o, &d, &a, &b, &c)
		if want := min(u, w, 1-u-w) > 0; (side != 0) != want {
			t.Fatalf("%v %v on %v %v %v: side %d, weights %v %v", o, d, a, b, c, side, u, w)
		}
		if side == 0 {
			continue
		}
		hits++
		if math.Abs(got-tt) > 1e-8*(1+math.Abs(tt)) { // det >= 1e-6 leaves about nine digits
			t.Fatalf("T = %v, want %v", got, tt)
		}
		if (e.Cross(f).Dot(d) > 0) != (side > 0) {
			t.Fatalf("side %d against the normal", side)
		}
	}
	if hits < 500 {
		t.Errorf("only %d hits", hits)
	}
}

func TestRayIsWatertight(t *testing.T) {
	// Rays from the middle of a ball at its vertices and edge middles must leave it.
	m := solid.Icosphere(10, 3)
	tree := New(m, 1)
	for f := range m.Facets {
		a, b, _ := m.Triangle(f)
		for _, at := range []r3.Vector{a, a.Add(b).Mul(0.5), a.Add(b.Sub(a).Mul(1.0 / 3))} {
			if _, ok := tree.Ray(r3.Vector{X: 0.1, Y: 0.2}, at.Sub(r3.Vector{X: 0.1, Y: 0.2}), 0, math.Inf(1)); !ok {
				t.Fatalf("the ray at %v slips through", at)
			}
		}
	}
}

func TestWinding(t *testing.T) {
	a := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 4, Z: 4})
	b := solid.Shift(a, r3.Vector{X: 2, Y: 2, Z: 2})
	cavity := solid.Reverse(solid.Box(r3.Vector{X: 0.5, Y: 0.5, Z: 0.5}, r3.Vector{X: 1, Y: 1, Z: 1}))
	tree := New(solid.Merge(a, b, cavity), 1)
	for _, c := range []struct {
		x, y, z float64
		want    int
	}{
		{1.5, 1.5, 1.5, 1},
		{3, 3, 3, 2},
		{5, 5, 5, 1},
		{0.75, 0.75, 0.75, 0},
		{7, 7, 7, 0},
		{-1, 2, 2, 0},
		{1, 1, -1, 0},
		{2, 2, -1, 0},
		{2, 2, 1.5, 1},
		{3, 2.5, 2.5, 2}, // below corners, edges and diagonals of facets
		{0.25, 0.25, 0.25, 1},
		{0.5, 0.75, 0.25, 1},
	} {
		if got := tree.Winding(r3.Vector{X: c.x, Y: c.y, Z: c.z}); got != c.want {
			t.Errorf("winding at %v %v %v is %d, want %d", c.x, c.y, c.z, got, c.want)
		}
	}
	ball := solid.Icosphere(5, 3)
	bt := New(ball, 1)
	s := bt.Signs(nil)
	r := rand.New(rand.NewPCG(4, 5))
	for i := range 3000 {
		p := r3.Vector{X: 12 * (r.Float64() - 0.5), Y: 12 * (r.Float64() - 0.5), Z: 12 * (r.Float64() - 0.5)}
		if i%2 == 0 { // straight below or above a vertex
			v := ball.Vertices[r.IntN(len(ball.Vertices))]
			p.X, p.Y = v.X, v.Y
		}
		_, d := s.Closest(p, NoHint)
		if in := bt.Inside(p); in != (d < 0) && math.Abs(d) > 1e-12 {
			t.Fatalf("%v: winding says inside %v, signed distance is %v", p, in, d)
		}
	}
}

func TestVisits(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 7))
	m := soup(r, 300)
	tree := New(m, 2)
	for range 50 {
		p := r3.Vector{X: 20 * (r.Float64() - 0.5), Y: 20 * (r.Float64() - 0.5), Z: 20 * (r.Float64() - 0.5)}
		rad := 5 * r.Float64()
		var got, want []int
		tree.VisitBall(p, rad, func(f int) bool { got = append(got, f); return true })
		for f := range m.Facets {
			a, b, c := m.Triangle(f)
			if d := slowDistance(p, a, b, c); math.Abs(d-rad) < 1e-7 {
				want = nil
				got = nil
				break // on the rim: either answer is right
			} else if d < rad {
				want = append(want, f)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("ball %v %v: %v, want %v", p, rad, got, want)
		}
		lo, hi := p, p.Add(r3.Vector{X: rad, Y: rad, Z: rad})
		got, want = nil, nil
		tree.VisitBox(lo, hi, func(f int) bool { got = append(got, f); return true })
		for f := range m.Facets {
			s := m.WithVertices(m.Vertices)
			s.Facets = m.Facets[f : f+1]
			a, b, c := s.Triangle(0)
			if max(a.X, b.X, c.X) >= lo.X && min(a.X, b.X, c.X) <= hi.X && max(a.Y, b.Y, c.Y) >= lo.Y &&
				min(a.Y, b.Y, c.Y) <= hi.Y && max(a.Z, b.Z, c.Z) >= lo.Z && min(a.Z, b.Z, c.Z) <= hi.Z {
				want = append(want, f)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("box %v %v: %v, want %v", lo, hi, got, want)
		}
	}
}

func TestSameTreeForAnyWorkers(t *testing.T) {
	m := solid.Implicit(solid.GyroidSheet(8, 1.2), r3.Vector{X: -10, Y: -10, Z: -10}, r3.Vector{X: 10, Y: 10, Z: 10}, 0.5)
	one := New(m, 1)
	if len(m.Facets) < 2*forkAbove {
		t.Fatalf("%d facets never fork", len(m.Facets))
	}
	for _, w := range []int{2, 7} {
		other := New(m, w)
		if !slices.Equal(one.nodes, other.nodes) || !slices.Equal(one.id, other.id) || !slices.Equal(one.tri, other.tri) {
			t.Errorf("the tree of %d workers differs from that of one", w)
		}
	}
	seen := make([]bool, len(m.Facets))
	for _, f := range one.id {
		if seen[f] {
			t.Fatalf("facet %d is in two leaves", f)
		}
		seen[f] = true
	}
}

// Every node is visited once, after those below it.
func TestUpwards(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 1))
	for _, m := range []*mesh.Mesh{solid.Icosphere(1, 6), soup(r, 9000), soup(r, 5), {}} {
		tree := New(m, 1)
		seen := make([]bool, len(tree.nodes))
		tree.upwards(4, func(i int32) {
			for _, c := range tree.nodes[i].child {
				if seen[i] || c >= 0 && !seen[c] {
					t.Errorf("%d facets: node %d before its child %d, or twice", len(m.Facets), i, c)
				}
			}
			seen[i] = true
		})
		if slices.Contains(seen, false) {
			t.Errorf("%d facets: a node is left out", len(m.Facets))
		}
	}
}

func TestEmptyAndTiny(t *testing.T) {
	empty := New(&mesh.Mesh{}, 0)
	if h := empty.Closest(r3.Vector{}, NoHint); h.Facet != -1 || !math.IsInf(h.Dist, 1) {
		t.Errorf("an empty mesh has a nearest point: %+v", h)
	}
	if _, ok := empty.Ray(r3.Vector{}, r3.Vector{X: 1}, 0, 1); ok {
		t.Error("an empty mesh is hit")
	}
	if n := empty.Winding(r3.Vector{}); n != 0 {
		t.Errorf("an empty mesh winds %d times", n)
	}
	if c, err := empty.SelfCrossings(t.Context(), CrossingOptions{}); err != nil || c.Total != 0 {
		t.Errorf("an empty mesh crosses itself: %v, %v", c, err)
	}
	nan := math.NaN()
	if h := New(solid.Icosphere(1, 1), 1).Closest(r3.Vector{X: nan, Y: nan, Z: nan}, 3); h.Facet != -1 {
		t.Errorf("not-a-number has a nearest point: %+v", h)
	}
	// Two thousand facets in one place: nothing to split by.
	m := &mesh.Mesh{Vertices: []r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}}
	for range 2000 {
		m.Facets = append(m.Facets, [3]int32{0, 1, 2})
	}
	if h := New(m, 2).Closest(r3.Vector{}, NoHint); h.Facet != 0 || math.Abs(h.Dist-1/math.Sqrt(3)) > 1e-15 {
		t.Errorf("one place, many facets: %+v, want facet 0 at 1/sqrt(3)", h)
	}
}
