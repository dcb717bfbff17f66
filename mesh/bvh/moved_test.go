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

// The moved tree is asked the same questions as one that was built of the moved
// mesh. Moves reach across the whole mesh, so that no box keeps its place.
func TestMovedAnswersAsNew(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for name, m := range map[string]*mesh.Mesh{
		"soup": soup(r, 900), "folds": crumpled(r, false), "sphere": solid.Icosphere(3, 3), "one facet": soup(r, 1),
	} {
		moved := m.WithVertices(slices.Clone(m.Vertices))
		for i := range moved.Vertices {
			v := &moved.Vertices[i]
			*v = r3.Vector{X: v.X + 5*math.Sin(v.Y), Y: v.Y*1.5 + 20, Z: v.Z - 3*math.Cos(v.X)}
		}
		before := New(m, 1)
		got := before.Moved(moved, 2)
		sameAnswers(t, name, got, New(moved, 1), r)
		if again := before.Moved(moved, 7); !slices.Equal(again.nodes, got.nodes) {
			t.Errorf("%s: the tree of 7 workers differs from that of 2", name)
		}
	}
}

// A tree that follows moves of a few vertices at a time, at last far beyond
// where all others are, answers as one that was built of the moved mesh.
func TestFollowAnswersAsNew(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	for name, m := range map[string]*mesh.Mesh{
		"soup": soup(r, 900), "folds": crumpled(r, false), "sphere": solid.Icosphere(3, 3), "one facet": soup(r, 1),
	} {
		tree, other := New(m, 1), New(m, 1)
		for _, far := range []float64{0.01, 0.1, 0.1, 3, 200} {
			moved := m.WithVertices(slices.Clone(tree.Mesh().Vertices))
			for range 1 + len(moved.Vertices)/30 {
				v := &moved.Vertices[r.IntN(len(moved.Vertices))]
				*v = v.Add(r3.Vector{X: far * (r.Float64() - 0.5), Y: far * (r.Float64() - 0.5), Z: far * (r.Float64() - 0.5)})
			}
			tree.Follow(moved, 2)
			other.Follow(moved, 7)
			sameAnswers(t, name, tree, New(moved, 1), r)
			if !slices.Equal(tree.nodes, other.nodes) {
				t.Errorf("%s: the tree of 7 workers differs from that of 2", name)
			}
		}
	}
}

func sameAnswers(t *testing.T, name string, got, want *Tree, r *rand.Rand) {
	t.Helper()
	for i := range 500 {
		p := r3.Vector{X: 30 * (r.Float64() - 0.5), Y: 20 + 40*(r.Float64()-0.5), Z: 30 * (r.Float64() - 0.5)}
		if g, w := got.Closest(p, NoHint), want.Closest(p, NoHint); g != w {
			t.Fatalf("%s: nearest to %v: %+v, want %+v", name, p, g, w)
		}
		d := r3.Vector{X: r.Float64() - 0.5, Y: r.Float64() - 0.5, Z: r.Float64() - 0.5}
		g, gok := got.Ray(p, d, 0, math.Inf(1))
		if w, wok := want.Ray(p, d, 0, math.Inf(1)); g != w || gok != wok {
			t.Fatalf("%s: ray %d: %+v, want %+v", name, i, g, w)
		}
		if g, w := got.Winding(p), want.Winding(p); g != w {
			t.Fatalf("%s: winds %d times around %v, want %d", name, g, p, w)
		}
	}
	g, err := got.SelfCrossings(t.Context(), CrossingOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if w := mustCross(t, want.Mesh(), CrossingOptions{}); !slices.Equal(g.Pairs, w.Pairs) || g.NoArea != w.NoArea {
		t.Errorf("%s: %d crossings, want %d", name, g.Total, w.Total)
	}
}
