package field

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

// The unit cube from its twelve facets: capacitance 0.66067815 (Hwang and
// Mascagni; Read) and the flux on a face over the mean, references 6.1.
func TestCube(t *testing.T) {
	t.Parallel()
	m := solid.Box(r3.Vector{X: -0.5, Y: -0.5, Z: -0.5}, r3.Vector{X: 0.5, Y: 0.5, Z: 0.5})
	fine, err := Refine(t.Context(), m, Options{MaxPanels: 7000})
	if err != nil {
		t.Fatal(err)
	}
	r := solved(t, fine, Options{MaxPanels: 6000})
	within(t, "cube: capacitance", r.CapacitanceMM, 0.6606782, 0.003)
	for _, c := range []struct{ x, y, want float64 }{
		{0, 0, 0.6206}, {0.25, 0, 0.680}, {0.25, 0.25, 0.740}, {0.4, 0, 0.866}, {0.4, 0.4, 1.138},
	} {
		got := fluxOn(fine, r, r3.Vector{X: c.x, Y: c.y, Z: 0.5}) / r.MeanFlux
		within(t, fmt.Sprintf("cube: face at %v, %v from its centre, over the mean", c.x, c.y), got, c.want, 0.02)
	}
	// Edges: mean over a strip, not a point. The strip of width w holds the share
	// that the law r^(-1/3) gives from its outer end inwards: mean = 3/2 of the flux at w.
	strip := func(lo, hi float64) float64 {
		return meanWhere(fine, r, func(p r3.Vector) bool {
			d := 0.5 - math.Abs(p.X)
			return p.Z > 0.5-1e-9 && math.Abs(p.Y) < 0.2 && d > lo && d < hi
		})
	}
	inner, outer := strip(0, 0.05), strip(0.04, 0.06)
	within(t, "strip at an edge over its rim", inner/outer, 1.5, 0.06)
}

// fluxOn is the flux at a point of the surface, linear in the facet that holds it.
func fluxOn(m *mesh.Mesh, r *Result, p r3.Vector) float64 {
	best, out := math.Inf(1), 0.0
	for f, t := range m.Facets {
		a, b, c := m.Triangle(f)
		q := bvh.ClosestOnTriangle(p, a, b, c)
		if d := q.Sub(p).Norm2(); d < best {
			n := b.Sub(a).Cross(c.Sub(a))
			u := n.Dot(b.Sub(q).Cross(c.Sub(q))) / n.Norm2()
			v := n.Dot(c.Sub(q).Cross(a.Sub(q))) / n.Norm2()
			best, out = d, u*r.Factor[t[0]]+v*r.Factor[t[1]]+(1-u-v)*r.Factor[t[2]]
		}
	}
	return out * r.MeanFlux
}

// Box 4x2x1: capacitance, mean flux of the faces over the whole mean: references 6.1.
func TestBoxFaces(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})
	r := solved(t, m, coarse(Options{MaxPanels: 3000}))
	within(t, "box 4 x 2 x 1, five times as large: capacitance", r.CapacitanceMM, 7.2658, 0.003)
	face := func(in func(n r3.Vector) bool) float64 {
		var s, a float64
		for f := range m.Facets {
			if in(m.FacetNormal(f)) {
				s += r.PerFacet[f] * m.FacetArea(f)
				a += m.FacetArea(f)
			}
		}
		return s / a
	}
	within(t, "box 4 x 2 x 1: mean of the large faces", face(func(n r3.Vector) bool { return math.Abs(n.Z) > 0.9 }), 0.8618, 0.01)
	within(t, "box 4 x 2 x 1: mean of the long sides", face(func(n r3.Vector) bool { return math.Abs(n.Y) > 0.9 }), 1.1086, 0.01)
	within(t, "box 4 x 2 x 1: mean of the ends", face(func(n r3.Vector) bool { return math.Abs(n.X) > 0.9 }), 1.3358, 0.015)
}

// The strip at sharp edges: a vertex there gets the mean within the strip, so a wider strip means less.
func TestStripMeanAtEdges(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 1, Y: 1, Z: 1})
	fine, err := Refine(t.Context(), m, Options{MaxPanels: 1500})
	if err != nil {
		t.Fatal(err)
	}
	edge := r3.Vector{X: 0.5}
	var last float64
	for i, w := range []float64{0.03, 0.2} {
		r := solved(t, fine, coarse(Options{AsMeshed: true, StripMM: w}))
		got := fluxAt(fine, r, edge) / r.MeanFlux
		if i > 0 && !(got < last) {
			t.Errorf("factor at the edge with a strip of %v = %v, want less than %v", w, got, last)
		}
		last = got
	}
}

// A uniform field E0 along z: a sphere takes 3 cos(theta)/(1+2 Wa), which is
// also the hemispherical boss on a plane anode; a spheroid of height to radius 2
// takes 5.7615635397 at its tip: references 6.4 and 6.6.
func TestUniformField(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ height, wa, tip float64 }{
		{1, 0, 3}, {1, 0.5, 1.5}, {2, 0, 5.7615635397}, {0.5, 0, 1.8968123369},
	} {
		m := ellipsoid(1, 1, c.height, 4)
		sf := asMeshed(m, nil)
		ps := sf.panels()
		for i := range ps {
			ps[i].length, ps[i].goal = c.wa, ps[i].at.Z
		}
		s := &system{ps: ps}
		opt := coarse(Options{})
		if err := opt.fill(); err != nil {
			t.Fatal(err)
		}
		if err := s.solve(t.Context(), &opt); err != nil {
			t.Fatal(err)
		}
		q := make([]float64, sf.n)
		for i := range ps {
			q[ps[i].patch] = s.q[i]
		}
		fits := sf.fit(q)
		for i := range fits { // these fluxes change sign: no limits
			fits[i].lo, fits[i].hi = -10, 10
		}
		v := 0
		for i := range m.Vertices {
			if m.Vertices[i].Z > m.Vertices[v].Z {
				v = i
			}
		}
		var around []int32
		around = sf.around(m.Incidence(), int32(v), around)
		top := m.Vertices[v].Z / c.height
		within(t, fmt.Sprintf("boss on a plane, height %v, Wa = %v: tip", c.height, c.wa), sf.vertex(fits, around, m.Vertices[v])/top, c.tip, 0.01)
	}
}
