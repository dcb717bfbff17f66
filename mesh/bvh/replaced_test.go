package bvh

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// A tree whose facets were taken out, one by one and in long runs, cut into
// pieces, moved or joined by others answers as one that was built of the new mesh.
func TestReplacedAnswersAsNew(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 2))
	for name, m := range map[string]*mesh.Mesh{
		"soup": soup(r, 900), "folds": crumpled(r, false), "sphere": solid.Icosphere(3, 3), "few facets": soup(r, 5),
	} {
		tree := New(m, 1)
		for _, gone := range [][2]int{{0, 0}, {10, 300}, {0, len(m.Facets) - 3}} {
			next, of := pieces(r, tree.Mesh(), gone)
			if len(next.Facets) == 0 {
				continue
			}
			before := tree
			tree = tree.Replaced(next, of, 2) // again and again
			sameAnswers(t, name, tree, New(next, 1), r)
			before.Replace(next, of, 2)
			sameAnswers(t, name+", in place", before, New(next, 1), r)
			tree.Widen(2)
			sameAnswers(t, name+", wide", tree, New(next, 1), r)
			moved := next.WithVertices(slices.Clone(next.Vertices))
			for i := range moved.Vertices {
				moved.Vertices[i] = moved.Vertices[i].Mul(1.01)
			}
			sameAnswers(t, name+", moved", tree.Moved(moved, 2), New(moved, 1), r)
		}
	}
}

// pieces returns m without the facets of a range, with most of the others as they
// are, and of the rest some cut into fans, some gone and some moved, and which facet each is of.
func pieces(r *rand.Rand, m *mesh.Mesh, gone [2]int) (out *mesh.Mesh, of []int32) {
	out = &mesh.Mesh{Vertices: slices.Clone(m.Vertices)}
	add := func(f int, c ...[3]int32) {
		for _, t := range c {
			out.Facets, of = append(out.Facets, t), append(of, int32(f))
		}
	}
	for f, t := range m.Facets {
		if f >= gone[0] && f < gone[1] {
			continue
		}
		switch r.IntN(20) {
		case 0:
		case 1, 2: // a fan
			v := int32(len(out.Vertices))
			a, b, c := m.Triangle(f)
			out.Vertices = append(out.Vertices, a.Add(b).Add(c).Mul(1.0/3))
			add(f, [3]int32{t[0], t[1], v}, [3]int32{t[1], t[2], v}, [3]int32{t[2], t[0], v})
		case 3: // a body beside it
			v := int32(len(out.Vertices))
			n := r3.Vector{X: 0.1 * r.Float64(), Y: 0.1 * r.Float64(), Z: 0.1}
			for k := range 3 {
				out.Vertices = append(out.Vertices, m.Corner(f, k).Add(n))
			}
			add(f, t, [3]int32{v, v + 1, v + 2}, [3]int32{t[0], v + 1, t[1]})
		default:
			add(f, t)
		}
	}
	return out, of
}
