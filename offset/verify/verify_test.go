package verify

import (
	"context"
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region"
)

var (
	boxLo, boxHi = r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}
	boxSkin      = map[r3.Vector]region.Skin{{Z: 1}: region.Upskin, {Z: -1}: region.Downskin}
)

// perFacet returns the field that gives each facet the value of its unit normal.
func perFacet(m *mesh.Mesh, f func(n r3.Vector) float64) mesh.CornerField {
	v := make([]float64, len(m.Facets))
	for i := range v {
		v[i] = f(m.FacetNormal(i))
	}
	return mesh.UniformPerFacet(v)
}

func uniform(m *mesh.Mesh, a float64) mesh.CornerField {
	return perFacet(m, func(r3.Vector) float64 { return a })
}

func mustVerify(t *testing.T, nominal, grown *mesh.Mesh, w mesh.CornerField, opt Options) *Proof {
	t.Helper()
	p, err := Verify(t.Context(), nominal, grown, w, opt)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tol)
	}
}

// unequal calls for little on top, much below and something between at the sides.
func unequal(n r3.Vector) float64 {
	switch {
	case n.Z > 0.5:
		return 0.05
	case n.Z < -0.5:
		return 0.15
	}
	return 0.08
}

func grownBox(up, down, side float64) *mesh.Mesh {
	return solid.Box(r3.Vector{X: boxLo.X - side, Y: boxLo.Y - side, Z: boxLo.Z - down},
		r3.Vector{X: boxHi.X + side, Y: boxHi.Y + side, Z: boxHi.Z + up})
}

func TestBoxWithUnequalSkinsIsWhole(t *testing.T) {
	n := solid.Box(boxLo, boxHi)
	p := mustVerify(t, n, grownBox(0.05, 0.15, 0.08), perFacet(n, unequal), Options{Samples: 5000})
	if p.All.Shortfall.Max.Value != 0 || p.GrownShortfall.Value != 0 || !p.Within() || p.PlaceCount != 0 || p.Outside != 0 {
		t.Errorf("a mitred box with unequal skins is short: %+v, %+v, %d outside", p.All.Shortfall, p.GrownShortfall, p.Outside)
	}
	// The faces are plane and moved by what is called for; distances are of doubles near 20.
	near(t, "excess", p.All.Excess.Max.Value, 0, 1e-12)
	near(t, "RMS", p.All.RMS, 0.0, 0.01) // near edges of unequal faces the smaller stock is nearer
	near(t, "area", p.All.Area, 700, 1e-9)
	// Farthest beyond the allowance: an upper corner of the mitre, 0.05 up and 0.08 to both sides, less 0.08.
	near(t, "reach", p.Reach.Value, math.Sqrt(0.05*0.05+2*0.08*0.08)-0.08, 1e-12)
}

func TestMissingAllowanceIsFound(t *testing.T) {
	n := solid.Box(boxLo, boxHi)
	w := perFacet(n, unequal)
	skins := make([]region.Skin, len(n.Facets))
	for f := range skins {
		skins[f] = region.Vertical
		if s, ok := boxSkin[n.FacetNormal(f)]; ok {
			skins[f] = s
		}
	}
	for _, c := range []struct {
		what           string
		up, down, side float64
		skin           region.Skin
		want           float64 // greatest shortfall
	}{
		{"no stock below", 0.05, 0, 0.08, region.Downskin, 0.15},
		{"below the nominal size", 0.05, -0.02, 0.08, region.Downskin, 0.17},
		{"a hair too little on top", 0.0485, 0.15, 0.08, region.Upskin, 0.0015},
		{"half the stock at the sides", 0.05, 0.15, 0.04, region.Vertical, 0.04},
	} {
		p := mustVerify(t, n, grownBox(c.up, c.down, c.side), w, Options{Samples: 5000, Skins: skins})
		near(t, c.what+": shortfall", p.All.Shortfall.Max.Value, c.want, 1e-9)
		near(t, c.what+": from the grown side", p.GrownShortfall.Value, c.want, 1e-9)
		if p.Within() || p.PlaceCount == 0 {
			t.Errorf("%s: within tolerance, %d places", c.what, p.PlaceCount)
		}
		area := 0.0
		for _, s := range p.BySkin {
			area += s.Area
			if s.Skin == c.skin {
				near(t, c.what+": of the skin", s.Shortfall.Max.Value, c.want, 1e-9)
				near(t, c.what+": 95 % of the skin", s.Shortfall.P95, c.want, c.want/levels*1.01)
			} else if s.Shortfall.P95 > 0 {
				// The rim of the neighbours may be short, where their mitre is cut off; their faces are not.
				t.Errorf("%s: %v is short by %v too", c.what, s.Skin, s.Shortfall)
			}
		}
		near(t, c.what+": area of the skins", area, p.All.Area, 1e-9)
		worst := p.ShortfallPlaces[0]
		near(t, c.what+": first place", worst.Shortfall, c.want, 1e-9)
	}
}

// A box grown by more than any skin calls for has at a corner what exceeds the
// greatest allowance of the faces there, whichever facet comes first.
func TestCornersExceedTheirGreatestAllowance(t *testing.T) {
	const d = 0.3
	n := solid.Box(boxLo, boxHi)
	for range 2 {
		p := mustVerify(t, n, grownBox(d, d, d), perFacet(n, unequal), Options{Samples: 1})
		for v, x := range n.Vertices {
			want := d - 0.08 // of the sides
			if x.Z == boxLo.Z {
				want = d - 0.15 // from below
			}
			near(t, "excess at a corner", p.VertexDeviation[v], want, 1e-12)
		}
		near(t, "greatest excess, on top", p.All.Excess.Max.Value, d-0.05, 1e-12)
		slices.Reverse(n.Facets)
	}
}

func TestSlopedAllowance(t *testing.T) {
	// A slab whose upper face calls for 0.1 to 0.3 mm along x, slope 0.1.
	lo, hi := r3.Vector{}, r3.Vector{X: 2, Y: 2, Z: 1}
	n := solid.Box(lo, hi)
	const slope = 0.1
	lift := func(x float64) float64 { return 0.1 + slope*x }
	w := make(mesh.CornerField, len(n.Facets))
	for f := range n.Facets {
		if n.FacetNormal(f).Z > 0.5 {
			for k := range 3 {
				w[f][k] = lift(n.Corner(f, k).X)
			}
		}
	}
	grow := func(short float64) *mesh.Mesh {
		return solid.Map(n, func(v r3.Vector) r3.Vector {
			if v.Z > 0.5 {
				v.Z += lift(v.X) - short
			}
			return v
		})
	}
	p := mustVerify(t, n, grow(0), w, Options{Samples: 5000})
	// Uncorrected, the distance would be 0.5 % or 1.5 um below the allowance.
	near(t, "shortfall", p.All.Shortfall.Max.Value, 0, 0)
	near(t, "seen from the grown side", p.GrownShortfall.Value, 0, 0)
	near(t, "excess", p.All.Excess.Max.Value, 0, 1e-12)
	p = mustVerify(t, n, grow(0.0012), w, Options{Samples: 5000})
	// The shortfall along the normal is measured as the distance to the sloped surface: times cos(atan 0.1), 0.6 %
	// less, except at its upper rim, where nothing is beside.
	near(t, "shortfall of 1.2 um", p.All.Shortfall.Max.Value, 0.0012, 6.1e-6)
	// A ridge is asked a millionth of its facet's size inside the facet.
	near(t, "seen from the grown side", p.GrownShortfall.Value, 0.0012, 1e-8)
	if p.Within() {
		t.Error("1.2 um short is within 1 um")
	}
}

// bracket extrudes an L along z: an inner corner at (4, 4).
func bracket(d float64) *mesh.Mesh {
	return solid.Extrude([]r3.Vector{
		{X: 0 - d, Y: 0 - d},
		{X: 10 + d, Y: 0 - d},
		{X: 10 + d, Y: 4 + d},
		{X: 4 + d, Y: 4 + d},
		{X: 4 + d, Y: 10 + d},
		{X: 0 - d, Y: 10 + d},
	}, r3.Vector{X: 2, Y: 2}, 6)
}

func TestInnerCornerKeepsAFillet(t *testing.T) {
	const d = 0.1
	n := bracket(0)
	g := solid.Map(bracket(d), func(v r3.Vector) r3.Vector {
		if v.Z > 3 {
			v.Z += d
		} else {
			v.Z -= d
		}
		return v
	})
	p := mustVerify(t, n, g, uniform(n, d), Options{Samples: 20000})
	near(t, "shortfall", p.All.Shortfall.Max.Value, 0, 0)
	// references.md 7.4: (sqrt 2 - 1) d is left on the bisector of a square inner corner. The nearest
	// samples lie a millionth of a facet of size 10 beside the corner.
	near(t, "excess", p.All.Excess.Max.Value, (math.Sqrt2-1)*d, 2e-5)
	at := p.All.Excess.Max.At
	near(t, "its place, x", at.X, 4, 1e-3)
	near(t, "its place, y", at.Y, 4, 1e-3)
	// The fillet's width along each face is d: 2 d of a perimeter of 40, times the height, of the whole area.
	share := 0.0
	for i, s := range p.Histogram.Share {
		if p.Histogram.Start+float64(i)*p.Histogram.Step > 0 {
			share += s
		}
	}
	// Shares of few samples in a narrow strip: a third of the value.
	if want := 2 * d * 6 / p.All.Area; share > 1.34*want || share < want/3 {
		t.Errorf("share of area with excess: %v, want about %v", share, want)
	}
}

func TestSphereCylinderTorus(t *testing.T) {
	const d = 0.5
	for _, c := range []struct {
		what           string
		nominal, grown func(fine int) *mesh.Mesh
	}{
		{"sphere", func(k int) *mesh.Mesh { return solid.Icosphere(10, 1+k) }, func(k int) *mesh.Mesh { return solid.Icosphere(10+d, 1+k) }},
		{
			"cylinder", func(k int) *mesh.Mesh { return solid.Cylinder(5, 20, 12<<k) },
			func(k int) *mesh.Mesh { return solid.Shift(solid.Cylinder(5+d, 20+2*d, 12<<k), r3.Vector{Z: -d}) },
		},
		{"torus", func(k int) *mesh.Mesh { return solid.Torus(10, 3, 24<<k, 12<<k) }, func(k int) *mesh.Mesh { return solid.Torus(10, 3+d, 24<<k, 12<<k) }},
	} {
		// Moved radially, facets stand closer than d by (1 - cos) of the angle from their middle to their corners, times
		// d: a quarter of it with each halving, and for the cylinder d (1 - cos(pi/n)).
		var last float64
		for k := range 3 {
			n := c.nominal(k)
			p := mustVerify(t, n, c.grown(k), uniform(n, d), Options{Samples: 3000})
			s := p.All.Shortfall.Max.Value
			if s <= 0 || s > 0.1*d {
				t.Errorf("%s: shortfall %v at step %d, want above 0 and below 10 %% of the allowance", c.what, s, k)
			}
			if c.what == "cylinder" {
				near(t, "cylinder", s, d*(1-math.Cos(math.Pi/float64(int(12)<<k))), 1e-9)
			}
			if r := last / s; k > 0 && (r < 3.4 || r > 4.6) {
				t.Errorf("%s: halving the facets takes the shortfall from %v to %v, want about a quarter", c.what, last, s)
			}
			last = s
			if p.Outside != 0 {
				t.Errorf("%s: %d samples outside", c.what, p.Outside)
			}
		}
	}
}

func TestClippedEdgeIsFound(t *testing.T) {
	// A prism grown by 0.2 whose upright edge at (4,0) is cut off between the ends of the offset faces: every face
	// has its depth along the normal, the edge has not: 0.2 / sqrt 2 remain there.
	const d = 0.2
	n := solid.Extrude([]r3.Vector{{}, {X: 4}, {X: 4, Y: 4}, {Y: 4}}, r3.Vector{X: 2, Y: 2}, 3)
	g := solid.Extrude([]r3.Vector{{X: -d, Y: -d}, {X: 4, Y: -d}, {X: 4 + d}, {X: 4 + d, Y: 4 + d}, {X: -d, Y: 4 + d}}, r3.Vector{X: 2, Y: 2}, 3+2*d)
	g = solid.Shift(g, r3.Vector{Z: -d})
	p := mustVerify(t, n, g, uniform(n, d), Options{Samples: 5000})
	near(t, "shortfall", p.All.Shortfall.Max.Value, d-d/math.Sqrt2, 1e-9)
	at := p.All.Shortfall.Max.At
	near(t, "its distance from the edge", math.Hypot(at.X-4, at.Y), 0, 1e-3)
}

func TestFinIsReach(t *testing.T) {
	n := solid.Icosphere(5, 3)
	g := solid.Icosphere(5.2, 3)
	g.Vertices[17] = g.Vertices[17].Mul(1.3)
	p := mustVerify(t, n, g, uniform(n, 0.1), Options{Samples: 1000})
	near(t, "reach", p.Reach.Value, 5.2*1.3-5-0.1, 1e-9)
	if p.Reach.At != g.Vertices[17] {
		t.Errorf("reach at %v, want %v", p.Reach.At, g.Vertices[17])
	}
	one := mustVerify(t, n, g, uniform(n, 0.1), Options{Samples: 1000, OneWay: true})
	if one.GrownSamples != 0 || one.Reach.Facet != -1 {
		t.Errorf("one way, yet %d samples on the grown surface", one.GrownSamples)
	}
}

func TestSurfaceItselfIsShortEverywhere(t *testing.T) {
	n := solid.Torus(10, 3, 48, 24)
	p := mustVerify(t, n, n, uniform(n, 0.2), Options{Samples: 2000})
	near(t, "shortfall", p.All.Shortfall.Max.Value, 0.2, 1e-3) // tilted normals near edges see less
	if p.PlaceCount != 1 || p.ShortfallPlaces[0].Facets != len(n.Facets) {
		t.Errorf("%d places, %+v; want one with all facets", p.PlaceCount, p.ShortfallPlaces)
	}
	near(t, "area of the place", p.ShortfallPlaces[0].Area, n.Area(), 1e-9)
	zero := mustVerify(t, n, n, uniform(n, 0), Options{Samples: 2000})
	if !zero.Within() || zero.All.RMS > 1e-12 {
		t.Errorf("nothing called for, nothing moved: %+v", zero.All)
	}
}

func TestCavityIsMeasuredToo(t *testing.T) {
	part := func(d float64) *mesh.Mesh {
		return solid.Merge(solid.Icosphere(5+d, 3), solid.Reverse(solid.Icosphere(3-d, 3)))
	}
	n := part(0)
	p := mustVerify(t, n, part(0.1), uniform(n, 0.1), Options{Samples: 2000})
	// Convex facets moved radially stand up to 1 % of d closer at this fineness, those of a cavity as well.
	if s := p.All.Shortfall.Max.Value; s > 0.001 {
		t.Errorf("shortfall %v", s)
	}
	p = mustVerify(t, n, solid.Merge(solid.Icosphere(5.1, 3), solid.Reverse(solid.Icosphere(3, 3))), uniform(n, 0.1), Options{Samples: 2000})
	near(t, "a cavity left as it was", p.All.Shortfall.Max.Value, 0.1, 1e-3)
}

func TestSameProofForAnyWorkers(t *testing.T) {
	n := solid.Torus(10, 3, 96, 48)
	g := solid.Torus(10, 3.1, 96, 48)
	g.Vertices[100] = n.Vertices[100]
	skins := make([]region.Skin, len(n.Facets))
	for f := range skins {
		skins[f] = region.Skins[f%3]
	}
	var first *Proof
	for _, w := range []int{1, 2, 7} {
		p := mustVerify(t, n, g, uniform(n, 0.1), Options{Samples: 9000, Skins: skins, Workers: w})
		if first == nil {
			first = p
		} else if !reflect.DeepEqual(first, p) {
			t.Errorf("the proof of %d workers differs from that of one", w)
		}
	}
}

func TestMonotone(t *testing.T) {
	n := solid.Icosphere(10, 3)
	last := math.Inf(1)
	for _, r := range []float64{10, 10.02, 10.05, 10.08, 10.1, 10.2} {
		p := mustVerify(t, n, solid.Icosphere(r, 3), uniform(n, 0.1), Options{Samples: 500})
		if s := p.All.Shortfall.Max.Value; s > last {
			t.Errorf("more stock, more shortfall: %v after %v", s, last)
		} else {
			last = s
		}
	}
	if last != 0 {
		t.Errorf("twice the allowance is still short by %v", last)
	}
}

func TestInputErrors(t *testing.T) {
	n := solid.Icosphere(1, 1)
	w := uniform(n, 0.1)
	bad := uniform(n, 0.1)
	bad[3][1] = math.NaN()
	for what, c := range map[string]struct {
		n, g *mesh.Mesh
		w    mesh.CornerField
		o    Options
	}{
		"empty nominal": {&mesh.Mesh{}, n, nil, Options{}},
		"empty grown":   {n, &mesh.Mesh{}, w, Options{}},
		"short field":   {n, n, w[1:], Options{}},
		"short skins":   {n, n, w, Options{Skins: make([]region.Skin, 2)}},
		"no number":     {n, n, bad, Options{}},
	} {
		if _, err := Verify(t.Context(), c.n, c.g, c.w, c.o); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v, want ErrInput", what, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Verify(ctx, n, n, w, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
