package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"pgregory.net/rapid"

	"skinstock/mesh/solid"
)

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

// The hit by the rule of Cramer, which arranges the equations otherwise.
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
