package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

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
