package verify

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// bumpy moves a share of the vertices of m in or out by up to depth.
func bumpy(m *mesh.Mesh, share, depth float64, seed uint64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(seed, 1))
	v := slices.Clone(m.Vertices)
	for i := range v {
		if r.Float64() < share {
			v[i] = v[i].Mul(1 + depth*(2*r.Float64()-1)/v[i].Norm())
		}
	}
	return m.WithVertices(v)
}

// What a watch says after changes is what a proof of the last surface says,
// whether only vertices moved or facets were cut, and the way back leads to
// the first proof; also where the surface stands off by far more than it should.
// With one sample a facet, plans do not depend on areas.
func TestWatchFollowsChanges(t *testing.T) {
	for _, off := range []float64{0.2, 1} {
		watchFollows(t, off)
	}
}

// watchFollows grows a ball that calls for about 0.2 mm by off and changes it.
func watchFollows(t *testing.T, off float64) {
	t.Helper()
	n := solid.Icosphere(10, 4)
	first := n.WithVertices(slices.Clone(n.Vertices))
	for i, v := range first.Vertices {
		first.Vertices[i] = v.Mul(1 + off/v.Norm())
	}
	wanted := uniform(n, 0.2)
	for f := range wanted {
		a, _, _ := n.Triangle(f)
		wanted[f][0] += 0.01 * math.Sin(a.X)
	}
	opt := Options{Samples: 1, Workers: 2}
	w, err := Start(t.Context(), n, first, wanted, opt)
	if err != nil {
		t.Fatal(err)
	}
	start := mustVerify(t, n, first, wanted, opt)
	state := first
	bumps := bumpy(first, 0.1, 0.1, 3)
	few, ofFew := quartered(bumps, 77)
	again, ofAgain := quartered(bumpy(bumps, 0.001, 0.05, 5), 300)
	for i, next := range []struct {
		m       *mesh.Mesh
		numbers []int32
	}{
		{bumpy(first, 0.02, 0.05, 1), nil},
		{bumpy(first, 0.5, 0.1, 2), nil},
		{few, ofFew},
		{again, ofAgain},
		{few, nil}, // then whatever stands at another number counts as new
		{bumpy(first, 0.01, 0.01, 4), nil},
		{first, nil},
	} {
		if err := w.Change(t.Context(), next.m, nil, nil, next.numbers); err != nil {
			t.Fatal(err)
		}
		state = next.m
		got, want := w.Proof(), mustVerify(t, n, state, wanted, opt)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%g mm off, after change %d: %d outside, shortfall %+v, seen from the grown side %+v; want %d, %+v, %+v", off, i,
				got.Outside, got.All.Shortfall.Max, got.GrownShortfall, want.Outside, want.All.Shortfall.Max, want.GrownShortfall)
		}
		if state != first && reflect.DeepEqual(want, start) {
			t.Errorf("change %d changes nothing", i)
		}
	}
}

// A surface that moves many allowances away at once, out of reach of what it left,
// is measured anew: nine allowances of excess everywhere, and none on the way back;
// whether its facets stay or others take their places.
func TestWatchFollowsFarMoves(t *testing.T) {
	const stock = 0.1
	n := solid.Box(boxLo, boxHi)
	thick, thin := grownBox(10*stock, 10*stock, 10*stock), grownBox(stock, stock, stock)
	for _, other := range []*mesh.Mesh{thin.WithVertices(thick.Vertices), thick} {
		w, err := Start(t.Context(), n, thin, uniform(n, stock), Options{Samples: 100})
		if err != nil {
			t.Fatal(err)
		}
		for _, next := range []struct {
			m      *mesh.Mesh
			excess float64
		}{{other, 9 * stock}, {thin, 0}} {
			if err := w.Change(t.Context(), next.m, nil, nil, nil); err != nil {
				t.Fatal(err)
			}
			p := w.Proof()
			near(t, "greatest excess", p.All.Excess.Max.Value, next.excess, 1e-12)
			near(t, "mean excess", p.All.Mean, next.excess, 1e-12)
		}
	}
}

// quartered cuts facet f at the middles of its edges, and its neighbours with it, so that facet numbers shift,
// and tells of which facet each one is.
func quartered(m *mesh.Mesh, f int) (out *mesh.Mesh, of []int32) {
	topo := m.Topology()
	out = &mesh.Mesh{Vertices: slices.Clone(m.Vertices)}
	var mid [3]int32
	split := map[int32]int32{} // facet beside f: its half-edge that is cut
	for k := range 3 {
		h := int32(3*f + k)
		mid[k] = int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices[m.Origin(h)].Add(m.Vertices[m.Target(h)]).Mul(0.5).Mul(1.001))
		split[topo.Twin[h]/3] = h
	}
	for g, t := range m.Facets {
		h, cut := split[int32(g)]
		switch {
		case g == f:
			out.Facets = append(out.Facets, mid, [3]int32{t[0], mid[0], mid[2]}, [3]int32{t[1], mid[1], mid[0]}, [3]int32{t[2], mid[2], mid[1]})
		case cut:
			u := topo.Twin[h]
			a, b, c := m.Origin(u), m.Target(u), m.Target(mesh.Next(u))
			out.Facets = append(out.Facets, [3]int32{a, mid[h%3], c}, [3]int32{mid[h%3], b, c})
		default:
			out.Facets = append(out.Facets, t)
		}
		for len(of) < len(out.Facets) {
			of = append(of, int32(g))
		}
	}
	return out, of
}

// A dent in the grown sphere is lacking by its depth at its vertex, and the way
// out of it is the radius.
func TestLacksPointOutwards(t *testing.T) {
	n := solid.Icosphere(10, 4)
	g := n.WithVertices(slices.Clone(n.Vertices))
	for i, v := range g.Vertices {
		g.Vertices[i] = v.Mul(1 + 0.2/v.Norm())
	}
	const v, depth = 100, 0.05
	g.Vertices[v] = n.Vertices[v].Mul(1 + (0.2-depth)/n.Vertices[v].Norm())
	w, err := Start(t.Context(), n, g, uniform(n, 0.2), Options{Samples: 1})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, l := range w.Lacks() {
		if l.K < 0 || g.Facets[l.Facet][l.K] != v {
			continue
		}
		found = true
		near(t, "depth of the dent", l.By, depth, 1e-9) // rounding of coordinates near 10
		if radial := n.Vertices[v].Normalize(); l.Out.Sub(radial).Norm() > 1e-6 {
			t.Errorf("the way out is %v, want the radius %v", l.Out, radial)
		}
	}
	if !found {
		t.Error("the dent is not among the lacks")
	}
	short := w.Short()
	for f, c := range n.Facets {
		if slices.Contains(c[:], v) && short[f] < 0.9*depth { // the facet's centroid stands a third as deep, the vertex all of it
			t.Errorf("seen from the nominal side %v mm are missing on facet %d, want about %v", short[f], f, depth)
		}
	}
}

// A place that is short steps out to where it has its stock: off a face along its
// normal, off an edge straight away from it.
func TestClearStepsOut(t *testing.T) {
	n := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 10})
	g := solid.Box(r3.Vector{X: -0.2, Y: -0.2, Z: -0.2}, r3.Vector{X: 10.2, Y: 10.2, Z: 10.2})
	w, err := Start(t.Context(), n, g, uniform(n, 0.2), Options{Samples: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, want r3.Vector }{
		{r3.Vector{X: 4, Y: 3, Z: 10.05}, r3.Vector{X: 4, Y: 3, Z: 10.2}},
		{r3.Vector{X: 10.03, Y: 3, Z: 10.04}, r3.Vector{X: 10.12, Y: 3, Z: 10.16}},
		{r3.Vector{X: 4, Y: 3, Z: 10.3}, r3.Vector{X: 4, Y: 3, Z: 10.3}},
	} {
		near(t, "distance from the place with its stock", w.Clear(c.from).Sub(c.want).Norm(), 0, Resolution)
	}
}

// In an inner corner a place steps off one face, then off the other.
func TestClearStepsOffBothFaces(t *testing.T) {
	n, g := bracket(0), bracket(0.1)
	w, err := Start(t.Context(), n, g, uniform(n, 0.1), Options{Samples: 1})
	if err != nil {
		t.Fatal(err)
	}
	want := r3.Vector{X: 4.1, Y: 4.1, Z: 3}
	near(t, "distance from the place clear of both", w.Clear(r3.Vector{X: 4.05, Y: 4.08, Z: 3}).Sub(want).Norm(), 0, Resolution)
}

// A dented corner of a box is told with its own depth on every facet that has it, though their middles lack less.
func TestShortTellsEveryCorner(t *testing.T) {
	n := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 10})
	const stock = 0.2
	for v := range n.Vertices {
		g := solid.Box(r3.Vector{X: -stock, Y: -stock, Z: -stock}, r3.Vector{X: 10 + stock, Y: 10 + stock, Z: 10 + stock})
		g.Vertices[v] = n.Vertices[v].Add(g.Vertices[v].Sub(n.Vertices[v]).Mul(0.5))
		w, err := Start(t.Context(), n, g, uniform(n, stock), Options{Samples: 1, OneWay: true})
		if err != nil {
			t.Fatal(err)
		}
		const least = 0.45 * stock // at the corner the faces stand half as far out as they should, at the middle of a facet five sixths
		for f, s := range w.Short() {
			if slices.Contains(n.Facets[f][:], int32(v)) && s < least-Resolution {
				t.Errorf("corner %d lacks %v mm on facet %d, want %v at least", v, s, f, least)
			}
		}
	}
}
