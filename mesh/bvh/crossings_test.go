package bvh

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/exact/exacttest"
	"skinstock/mesh/solid"
)

// crossesExactly applies the definition: some common point lies beyond the shared corners and edge.
func crossesExactly(a, b [3]r3.Vector) bool {
	var shared []r3.Vector
	for _, p := range a {
		if slices.Contains(b[:], p) {
			shared = append(shared, p)
		}
	}
	for _, p := range exacttest.Common(a, b) {
		switch len(shared) {
		case 0, 3:
			return true
		case 1:
			if d := p.Minus(exacttest.Of(shared[0])); d.Dot(d).Sign() > 0 {
				return true
			}
		case 2: // convexity: a common point off the edge's line is needed, for the edge ends both triangles
			c := p.Minus(exacttest.Of(shared[0])).Cross(exacttest.Of(shared[1]).Minus(exacttest.Of(shared[0])))
			if c.Dot(c).Sign() > 0 {
				return true
			}
		}
	}
	return false
}

func bruteCrossings(m *mesh.Mesh) [][2]int32 {
	var out [][2]int32
	flat := make([]bool, len(m.Facets))
	tri := make([][3]r3.Vector, len(m.Facets))
	for f := range tri {
		tri[f][0], tri[f][1], tri[f][2] = m.Triangle(f)
		a := exacttest.Of(tri[f][0])
		n := exacttest.Of(tri[f][1]).Minus(a).Cross(exacttest.Of(tri[f][2]).Minus(a))
		flat[f] = n.Dot(n).Sign() == 0
	}
	for f := range tri {
		for g := f + 1; g < len(tri); g++ {
			if !flat[f] && !flat[g] && crossesExactly(tri[f], tri[g]) {
				out = append(out, [2]int32{int32(f), int32(g)})
			}
		}
	}
	return out
}

func mustCross(t *testing.T, m *mesh.Mesh, opt CrossingOptions) *Crossings {
	t.Helper()
	c, err := New(m, opt.Workers).SelfCrossings(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// crumpled is a closed body of few facets with vertices thrown about, on a grid or not.
func crumpled(r *rand.Rand, onGrid bool) *mesh.Mesh {
	m := solid.Icosphere(3, 1)
	for i, v := range m.Vertices {
		v = v.Add(r3.Vector{X: 2 * r.NormFloat64(), Y: 2 * r.NormFloat64(), Z: 2 * r.NormFloat64()})
		if onGrid { // many touch, many are flat on each other, some vertices coincide
			v = r3.Vector{X: math.Round(v.X), Y: math.Round(v.Y), Z: math.Round(v.Z)}
		}
		m.Vertices[i] = v
	}
	return m
}

func TestSelfCrossingsAgainstRationals(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	total := 0
	for i := range 4 {
		m := crumpled(r, i%2 == 1)
		want := bruteCrossings(m)
		got := mustCross(t, m, CrossingOptions{Workers: 2})
		if !slices.Equal(got.Pairs, want) || got.Total != len(want) {
			t.Fatalf("case %d: %v, want %v", i, got.Pairs, want)
		}
		total += len(want)
	}
	if total < 500 {
		t.Errorf("only %d crossings in all cases", total)
	}
}

func TestCleanSolidsHaveNone(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"box":      solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}),
		"cylinder": solid.Cylinder(5, 20, 64), // fans of needles share one corner
		"tube":     solid.Tube(5, 3, 20, 64),
		"torus":    solid.Torus(10, 3, 64, 32),
		"ball":     solid.Icosphere(10, 4),
	} {
		turned := solid.Map(m, func(v r3.Vector) r3.Vector { // flat faces that no longer are so to the last bit
			return r3.Vector{X: 0.36*v.X - 0.8*v.Y + 0.48*v.Z, Y: 0.48*v.X + 0.6*v.Y + 0.64*v.Z, Z: -0.8*v.X + 0.6*v.Z}
		})
		for _, s := range []*mesh.Mesh{m, turned} {
			if c := mustCross(t, s, CrossingOptions{}); c.Total != 0 {
				t.Errorf("%s crosses itself: %v", name, c.Pairs)
			}
		}
	}
}

func TestFoldsTouchesAndDuplicates(t *testing.T) {
	v := []r3.Vector{{}, {X: 4}, {Y: 4}, {X: 1, Y: 1}, {X: 3, Y: 3}, {X: 1, Y: 1, Z: 2}, {X: 2, Y: 3, Z: 2}, {X: -2, Y: -2}, {X: 4, Y: 4, Z: 1e-300}}
	for _, c := range []struct {
		what   string
		facets [][3]int32
		want   int
	}{
		{"neighbours in one plane", [][3]int32{{0, 1, 2}, {1, 4, 2}}, 0},
		{"folded flat onto each other", [][3]int32{{0, 1, 2}, {1, 0, 3}}, 1},
		{"folded, but for the last bit", [][3]int32{{0, 1, 2}, {0, 1, 8}}, 0},
		{"the same facet twice", [][3]int32{{0, 1, 2}, {0, 1, 2}}, 1},
		{"the same facet, reversed", [][3]int32{{0, 1, 2}, {2, 1, 0}}, 1},
		{"a corner touches a face", [][3]int32{{0, 1, 2}, {3, 5, 6}}, 1},
		{"one corner shared", [][3]int32{{0, 1, 2}, {0, 7, 5}}, 0},
		{"one corner shared, edge in the face", [][3]int32{{0, 1, 2}, {0, 3, 5}}, 1},
		{"facet without area", [][3]int32{{0, 1, 2}, {0, 3, 4}}, 0},
	} {
		m := &mesh.Mesh{Vertices: v, Facets: c.facets}
		if got := mustCross(t, m, CrossingOptions{}); got.Total != c.want {
			t.Errorf("%s: %d pairs, want %d", c.what, got.Total, c.want)
		}
	}
	m := &mesh.Mesh{Vertices: v, Facets: [][3]int32{{0, 1, 2}, {0, 3, 4}}}
	if got := mustCross(t, m, CrossingOptions{}); got.NoArea != 1 {
		t.Errorf("%d facets without area, want 1", got.NoArea)
	}
}

func TestCrossingsLimitWorkersAndMarks(t *testing.T) {
	a := solid.Icosphere(5, 4)
	m := solid.Merge(a, solid.Shift(a, r3.Vector{X: 3, Y: 1}))
	all := mustCross(t, m, CrossingOptions{Workers: 1})
	if all.Total < 100 {
		t.Fatalf("two overlapping balls cross in %d pairs", all.Total)
	}
	for _, w := range []int{2, 8} {
		if c := mustCross(t, m, CrossingOptions{Workers: w}); !slices.Equal(c.Pairs, all.Pairs) {
			t.Errorf("%d workers find other pairs", w)
		}
	}
	few := mustCross(t, m, CrossingOptions{Limit: 10})
	if few.Total != all.Total || !slices.Equal(few.Pairs, all.Pairs[:10]) {
		t.Errorf("with a limit of 10: %d kept of %d", len(few.Pairs), few.Total)
	}
	marked := make([]bool, len(m.Facets))
	var want [][2]int32
	for _, p := range all.Pairs {
		marked[p[0]] = p[0]%3 == 0
	}
	for _, p := range all.Pairs {
		if marked[p[0]] || marked[p[1]] {
			want = append(want, p)
		}
	}
	near, err := New(m, 2).SelfCrossingsNear(t.Context(), marked, CrossingOptions{})
	if err != nil || !slices.Equal(near.Pairs, want) {
		t.Errorf("near marked facets: %d pairs, want %d (%v)", len(near.Pairs), len(want), err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := New(m, 2).SelfCrossings(ctx, CrossingOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// A facet whose first and last corners coincide has no area by any measure and
// must not reach the predicates, which hold for facets that span a plane.
func TestFacetWithEqualCornersIsFlat(t *testing.T) {
	v := func(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }
	m := &mesh.Mesh{
		Vertices: []r3.Vector{v(0, 0, 0), v(1, 0, 0), v(0, 0, 0), v(0, 1, 0), v(0, 0, 1)},
		Facets:   [][3]int32{{0, 1, 2}, {0, 1, 3}, {2, 3, 4}},
	}
	c, err := New(m, 1).SelfCrossings(context.Background(), CrossingOptions{})
	if err != nil || c.NoArea != 1 {
		t.Fatalf("flat facets %d, error %v; want 1 and none", c.NoArea, err)
	}
}
