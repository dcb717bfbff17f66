package verify

import (
	"math"
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

// A chamfer that leaves the little stock of the side all around still takes
// stock from the top beside the edge: only a look along the top's normal sees
// it. The edge point moved up by the top's allowance stands off the chamfer by
// (0.1 + 0)/sqrt 2.
func TestChamferIsSeenAlongTheNormal(t *testing.T) {
	prism := func(ps ...r3.Vector) *mesh.Mesh { return solid.Extrude(ps, r3.Vector{X: 1, Y: 1}, 2) }
	nominal := prism(r3.Vector{}, r3.Vector{X: 2}, r3.Vector{X: 2, Y: 2}, r3.Vector{Y: 2})
	grown := prism(r3.Vector{X: -0.05, Y: -0.05}, r3.Vector{X: 2.05, Y: -0.05}, r3.Vector{X: 2.05, Y: 2.05}, r3.Vector{X: 1.9, Y: 2.2}, r3.Vector{X: -0.05, Y: 2.2})
	w := perFacet(nominal, func(n r3.Vector) float64 {
		switch {
		case n.Y > 0.5:
			return 0.2
		case math.Abs(n.Z) > 0.5:
			return 0
		}
		return 0.05
	})
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
