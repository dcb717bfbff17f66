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

// A widened tree answers as the plain one to the last bit: at random places,
// beside the surface and on it, with and without hints and limits.
func TestWidenedAnswersAsPlain(t *testing.T) {
	if !hasLanes {
		t.Skip("this processor measures one box at a time")
	}
	r := rand.New(rand.NewPCG(5, 3))
	far := solid.Icosphere(3, 4)
	for i := range far.Vertices {
		far.Vertices[i] = far.Vertices[i].Add(r3.Vector{X: 3e4, Y: -2e5, Z: 1e3})
	}
	wave := solid.Implicit(solid.GyroidSheet(8, 1.2), r3.Vector{X: -6, Y: -6, Z: -6}, r3.Vector{X: 6, Y: 6, Z: 6}, 0.4)
	for _, of := range []struct {
		name string
		mesh *mesh.Mesh
	}{
		{"soup", soup(r, 3000)},
		{"folds", crumpled(r, false)},
		{"sphere", solid.Icosphere(3, 3)},
		{"far away", far},
		{"gyroid", wave},
		{"seventeen", soup(r, width+1)},
		{"block", solid.Box(r3.Vector{}, r3.Vector{X: 3, Y: 2, Z: 1})},
	} {
		name, m := of.name, of.mesh
		plain, wide := New(m, 1), New(m, 1)
		wide.Widen(2)
		for range 4000 {
			f := r.IntN(len(m.Facets))
			a, b, c := m.Triangle(f)
			p := a.Add(b).Add(c).Mul(1. / 3)
			switch r.IntN(4) {
			case 0:
				p = a
			case 1:
				p = p.Add(m.FacetNormal(f).Mul(math.Pow(10, 4*r.Float64()-3)))
			case 2:
				p = p.Add(r3.Vector{X: 50 * (r.Float64() - 0.5), Y: 50 * (r.Float64() - 0.5), Z: 50 * (r.Float64() - 0.5)})
			}
			limit := math.Inf(1)
			if r.IntN(3) == 0 {
				limit = r.Float64()
			}
			hint := r.IntN(len(m.Facets)+1) - 1
			got, ok := wide.ClosestWithin(p, limit, hint)
			if want, found := plain.ClosestWithin(p, limit, hint); got != want || ok != found {
				t.Fatalf("%s: nearest to %v within %v: %+v %v, want %+v %v", name, p, limit, got, ok, want, found)
			}
			d := []r3.Vector{{Z: 1}, {X: -2}, m.FacetNormal(f), a.Sub(p), b.Sub(a), {X: r.Float64() - 0.5, Y: r.Float64() - 0.5, Z: r.Float64() - 0.5}}[r.IntN(6)]
			hits, wanted := wide.AppendHits(nil, p, d, -limit, limit), plain.AppendHits(nil, p, d, -limit, limit)
			if !slices.Equal(hits, wanted) {
				t.Fatalf("%s: ray from %v along %v within %v: %v, want %v", name, p, d, limit, hits, wanted)
			}
			h, met := wide.Ray(p, d, 1e-3, limit)
			if want, found := plain.Ray(p, d, 1e-3, limit); h != want || met != found {
				t.Fatalf("%s: ray from %v along %v within %v: first %v %v, want %v %v", name, p, d, limit, h, met, want, found)
			}
		}
	}
}

// A ray in the cut face of a gyroid all but lies in a facet that has only its edge there:
// where it meets that may not depend on which boxes were looked into.
func TestRayAllButInAFacet(t *testing.T) {
	m := solid.Implicit(solid.GyroidSheet(8, 1.2), r3.Vector{X: -6, Y: -6, Z: -6}, r3.Vector{X: 6, Y: 6, Z: 6}, 0.4)
	plain, wide := New(m, 1), New(m, 1)
	wide.Widen(1)
	o, d := r3.Vector{X: 1.6, Y: -6, Z: 1.847213595480000414}, r3.Vector{Z: 1}
	got, met := wide.Ray(o, d, 1e-3, 0.7537992109089418)
	want, found := plain.Ray(o, d, 1e-3, 0.7537992109089418)
	if got != want || met != found {
		t.Errorf("%v %v, want %v %v", got, met, want, found)
	}
	for _, h := range plain.AppendHits(nil, o, d, -20, 20) {
		a, b, c := m.Triangle(h.Facet)
		if z := o.Z + h.T; z < min(a.Z, b.Z, c.Z)-1e-6 || z > max(a.Z, b.Z, c.Z)+1e-6 {
			t.Errorf("facet %d is met at z = %v, its corners are at %v, %v, %v", h.Facet, z, a.Z, b.Z, c.Z)
		}
	}
}

// The wide nodes hold every facet once, are the same for any number of workers,
// and do not outlive a move or their use.
func TestWidenedNodes(t *testing.T) {
	if !hasLanes {
		t.Skip("this processor measures one box at a time")
	}
	m := solid.Icosphere(3, 6)
	one, other := New(m, 1), New(m, 1)
	one.Widen(1)
	other.Widen(7)
	nodes := *one.wide.nodes.Load()
	if !slices.Equal(nodes, *other.wide.nodes.Load()) {
		t.Error("the nodes of 7 workers differ from those of one")
	}
	seen := make([]bool, len(m.Facets))
	for _, n := range nodes {
		for k := n.first; n.facets && k < n.first+int32(n.count); k++ {
			if seen[k] {
				t.Fatalf("place %d is below two nodes", k)
			}
			seen[k] = true
		}
	}
	if slices.Contains(seen, false) {
		t.Error("a facet is below no node")
	}
	if moved := one.Moved(m, 1); moved.wide.nodes.Load() != nil {
		t.Error("a moved tree has the nodes of where it was")
	}
	one.Follow(m, 1)
	other.Narrow()
	if one.wide.nodes.Load() != nil || other.wide.nodes.Load() != nil {
		t.Error("the nodes outlive the move or the use")
	}
}
