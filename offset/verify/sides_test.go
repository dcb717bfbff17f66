package verify

import (
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

// A place that the grown surface has left behind lacks its allowance and the
// way back to the surface, also where the facet has no direction of its own.
func TestOutsideWithoutADirection(t *testing.T) {
	nominal, grown := solid.Box(boxLo, boxHi), grownBox(-0.2, 0, 0)
	tree := bvh.New(grown, 1)
	g := &gauge{nominal: nominal, grown: grown, wanted: uniform(nominal, 0.1), tree: tree, signs: tree.Signs(nil), workers: 1}
	r := g.facet(r3.Vector{X: 9, Y: 4, Z: boxHi.Z}, r3.Vector{}, 0.1, 1, bvh.NoHint)
	near(t, "shortfall", r.short, 0.1+0.2, 1e-12)
	if !r.outside {
		t.Error("a place 0.2 mm outside does not count as outside")
	}
}

// chamfered returns a square prism, calling for 0.2 mm on top and 0.05 at its sides, and
// the same grown, with a chamfer at the top that leaves the sides' stock all around.
func chamfered() (nominal, grown *mesh.Mesh, wanted mesh.CornerField) {
	prism := func(ps ...r3.Vector) *mesh.Mesh { return solid.Extrude(ps, r3.Vector{X: 1, Y: 1}, 2) }
	nominal = prism(r3.Vector{}, r3.Vector{X: 2}, r3.Vector{X: 2, Y: 2}, r3.Vector{Y: 2})
	grown = prism(r3.Vector{X: -0.05, Y: -0.05}, r3.Vector{X: 2.05, Y: -0.05}, r3.Vector{X: 2.05, Y: 2.05}, r3.Vector{X: 1.9, Y: 2.2}, r3.Vector{X: -0.05, Y: 2.2})
	return nominal, grown, perFacet(nominal, func(n r3.Vector) float64 {
		switch {
		case n.Y > 0.5:
			return 0.2
		case math.Abs(n.Z) > 0.5:
			return 0
		}
		return 0.05
	})
}

// A chamfer that leaves the little stock of the side all around still takes
// stock from the top beside the edge: only a look along the top's normal sees
// it. The edge point moved up by the top's allowance stands off the chamfer by
// (0.1 + 0)/sqrt 2.
func TestChamferIsSeenAlongTheNormal(t *testing.T) {
	nominal, grown, w := chamfered()
	p := mustVerify(t, nominal, grown, w, Options{Samples: 20000})
	near(t, "shortfall", p.All.Shortfall.Max.Value, 0.1/math.Sqrt2, 2*inset)
	near(t, "height of the worst place", p.All.Shortfall.Max.At.Y, 2, 1e-12)
	if p.Within() {
		t.Error("a proof with a shortfall passes")
	}

	// The same inside the top face, 0.01 mm from the edge.
	tree := bvh.New(grown, 1)
	g := &gauge{nominal: nominal, grown: grown, wanted: w, tree: tree, signs: tree.Signs(nil), workers: 1}
	r := g.facet(r3.Vector{X: 1.99, Y: 2, Z: 1}, r3.Vector{Y: 1}, 0.2, 1, bvh.NoHint)
	near(t, "shortfall inside the face", r.short, 0.09/math.Sqrt2, 1e-12)
}

// The same place is spared with a masked face within eight allowances of it, and just
// as short as without one when that lies further off.
func TestOnlyBesideMasksIsSpared(t *testing.T) {
	const a = 0.2
	x := r3.Vector{X: 1.99, Y: 2, Z: 1}
	for _, c := range []struct{ off, want float64 }{
		{spareReach*a - 0.01, 0},
		{spareReach*a + 0.01, 0.09 / math.Sqrt2},
	} {
		nominal, grown, w := chamfered()
		n := len(grown.Facets)
		grown = solid.Merge(grown, solid.Box(x.Add(r3.Vector{X: -1, Y: c.off, Z: -1}), x.Add(r3.Vector{X: 1, Y: c.off + 1, Z: 1})))
		dry := make([]bool, len(grown.Facets))
		for f := range dry[n:] {
			dry[n+f] = true
		}
		r := &run{gauge: &gauge{nominal: nominal, wanted: w, workers: 1}}
		r.face(grown, nil, dry, nil)
		near(t, "shortfall", r.facet(x, r3.Vector{Y: 1}, a, 1, bvh.NoHint).short, c.want, 1e-12)
	}
}

// Either side of the proof alone makes it fail.
func TestWithinAsksBothSides(t *testing.T) {
	var p Proof
	p.Tolerance = 0.001
	if p.All.Shortfall.Max.Value = 0.002; p.Within() {
		t.Error("the nominal side is short and the proof passes")
	}
	p.All.Shortfall.Max.Value = 0.001
	if !p.Within() {
		t.Error("a shortfall of just the tolerance fails")
	}
	if p.GrownShortfall.Value = 0.002; p.Within() {
		t.Error("the grown side is short and the proof passes")
	}
}

// A pit in the grown surface between the samples of the nominal one is a place
// of its own, under the pit and as deep, however many places the nominal side finds.
func TestPitBetweenSamplesIsAPlace(t *testing.T) {
	const deep, wide = 0.03, 0.01
	n, g := solid.Box(boxLo, boxHi), grownBox(0.05, 0.15, 0.08)
	for f, c := range g.Facets {
		if g.FacetNormal(f).Z < 0.5 {
			continue
		}
		p := g.Corner(f, 0).Mul(0.7).Add(g.Corner(f, 1).Mul(0.2)).Add(g.Corner(f, 2).Mul(0.1))
		k := int32(len(g.Vertices))
		for i := range 3 {
			g.Vertices = append(g.Vertices, p.Add(g.Corner(f, i).Sub(p).Mul(wide/20)))
		}
		g.Vertices = append(g.Vertices, p.Sub(r3.Vector{Z: deep}))
		g.Facets[f] = [3]int32{k, k + 1, k + 3}
		for i := range int32(3) {
			j := (i + 1) % 3
			g.Facets = append(g.Facets, [3]int32{c[i], c[j], k + i}, [3]int32{c[j], k + j, k + i})
			if i > 0 {
				g.Facets = append(g.Facets, [3]int32{k + i, k + j, k + 3})
			}
		}
		// A second box has half the stock at its sides.
		beside := r3.Vector{X: 100}
		n, g = solid.Merge(n, solid.Shift(n, beside)), solid.Merge(g, solid.Shift(grownBox(0.05, 0.15, 0.04), beside))
		proof := mustVerify(t, n, g, perFacet(n, unequal), Options{Samples: 1})
		i := slices.IndexFunc(proof.ShortfallPlaces, func(p Place) bool { return p.FromGrown })
		if i < 0 || proof.PlaceCount < 2 {
			t.Fatalf("of %d places none is seen from the grown surface alone", proof.PlaceCount)
		}
		pit := proof.ShortfallPlaces[i]
		near(t, "depth", pit.Shortfall, deep, 1e-9)
		near(t, "place", pit.At.Distance(r3.Vector{X: p.X, Y: p.Y, Z: boxHi.Z}), 0, 1e-9)
		return
	}
	t.Fatal("the box has no top")
}
