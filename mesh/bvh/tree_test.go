package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

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
