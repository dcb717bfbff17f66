package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
)

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
