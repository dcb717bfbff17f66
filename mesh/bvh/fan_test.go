package bvh

import (
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// spiral is a fan of n facets around the origin that turns by step degrees with
// each, from the given angle on, and rises by rise with each; closed when its
// last facet ends where the first begins.
func spiral(n int, from, step, rise float64, closed bool) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: []r3.Vector{{}}}
	for i := range n + 1 {
		a := (from + float64(i)*step) * math.Pi / 180
		m.Vertices = append(m.Vertices, r3.Vector{X: math.Cos(a), Y: math.Sin(a), Z: rise * float64(i)})
	}
	for i := range n {
		m.Facets = append(m.Facets, [3]int32{0, int32(i + 1), int32(i + 2)})
	}
	if closed {
		m.Facets[n-1][2] = 1
	}
	return m
}

// A fan that goes around more than once covers itself, whether it closes or
// not and wherever it begins; brute force with rationals says where.
func TestFansThatCoverThemselves(t *testing.T) {
	for _, c := range []struct {
		name   string
		n      int
		step   float64
		rise   float64
		closed bool
		cover  bool
	}{
		{"once around", 6, 60, 0, true, false},
		{"cone", 9, 40, 0.0, true, false},
		{"open, most of a turn", 5, 60, 0.1, false, false},
		{"open, nearly two turns in one plane", 11, 60, 0, false, true},
		{"closed after two turns in one plane", 12, 60, 0, true, true},
		{"two turns, rising, closed through itself", 14, 720.0 / 14, 0.05, true, true},
	} {
		for from := 0.0; from < 360; from += 17 {
			m := spiral(c.n, from, c.step, c.rise, c.closed)
			got := mustCross(t, m, CrossingOptions{})
			if want := bruteCrossings(m); !slices.Equal(got.Pairs, want) {
				t.Fatalf("%s from %v degrees: pairs %v, brute force finds %v", c.name, from, got.Pairs, want)
			}
			if (got.Total > 0) != c.cover {
				t.Fatalf("%s from %v degrees: %d pairs", c.name, from, got.Total)
			}
		}
	}
}

// The quick way must answer for all of smooth closed skin,
// else it is of little use.
func TestSmoothVerticesAreOpen(t *testing.T) {
	for _, m := range []*mesh.Mesh{solid.Icosphere(10, 4), solid.Torus(10, 3, 60, 30)} {
		open, err := (&search{t: New(m, 2)}).openFans(t.Context(), 2)
		if err != nil {
			t.Fatal(err)
		}
		if slices.Contains(open, false) {
			t.Error("a vertex of a smooth closed surface is not seen to be open")
		}
	}
}
