package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
)

// Both searches find what a look at every facet finds.
func TestFacingAgainstEveryFacet(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	m := soup(r, 300)
	facing := New(m, 2).Facing(2)
	place := func(size float64) r3.Vector {
		return r3.Vector{X: size * (r.Float64() - 0.5), Y: size * (r.Float64() - 0.5), Z: size * (r.Float64() - 0.5)}
	}
	const cos = 0.3
	any := 0
	for range 300 {
		p, n, limit := place(20), place(1).Normalize(), 4*r.Float64()
		odd := func(f int) bool { return f%3 > 0 }
		least, front := math.Inf(1), math.Inf(1)
		for f := range m.Facets {
			a, b, c := m.Triangle(f)
			if o := m.FacetNormal(f); !(n.Dot(o) < cos) || o == (r3.Vector{}) || !odd(f) {
				continue
			}
			d := slowDistance(p, a, b, c)
			least = min(least, d)
			if max(a.Sub(p).Dot(n), b.Sub(p).Dot(n), c.Sub(p).Dot(n)) > 0 {
				front = min(front, d)
			}
		}
		if math.Abs(least-limit) < 1e-7 || math.Abs(front-limit) < 1e-7 {
			continue // on the rim: either answer is right
		}
		h, ok := facing.Closest(p, limit, n, cos, odd)
		if ok != (least < limit) || ok && math.Abs(h.Dist-least) > 1e-9 {
			t.Fatalf("closest to %v: %v at %v, want %v", p, ok, h.Dist, least)
		}
		if got := facing.AnyInFront(p, limit, n, cos, odd); got != (front < limit) {
			t.Fatalf("in front of %v within %v: %v, want one at %v", p, limit, got, front)
		} else if got {
			any++
		}
	}
	if any < 30 || any > 270 {
		t.Fatalf("%d places have something in front: nothing was tested", any)
	}
}
