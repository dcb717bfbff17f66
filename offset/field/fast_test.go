package field

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/part/parttest"
	"skinstock/mesh/solid"
)

// The table of Fast's errors against Solve.
func TestFastAgainstFull(t *testing.T) {
	t.Parallel()
	box, err := Refine(t.Context(), solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}), Options{MaxPanels: 4000})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		most float64
	}{
		{"box", box, 0.12},
		{"ellipsoid", ellipsoid(30, 20, 10, 5), 0.02},
		{"smooth bracket", solid.SmoothBracket(2), 0.1},
	} {
		full := solved(t, c.m, coarse(Options{MaxPanels: 4000}))
		fast, err := Fast(t.Context(), c.m, Options{})
		if err != nil {
			t.Fatal(err)
		}
		gap := gapTo(c.m, fast.PerFacet, full.PerFacet)
		t.Logf("%s: %d facets, %d and %d panels, mean gap %.3f, estimates %.3f and %.3f; full %+v", c.name, len(c.m.Facets), full.Panels, fast.Panels, gap, full.ErrorEstimate, fast.ErrorEstimate, full.Spread(c.m))
		if gap > c.most {
			t.Errorf("%s: mean gap %v, want at most %v", c.name, gap, c.most)
		}
	}
}

// Hollows call for more panels of the fast model, up to its limit.
func TestFastPanelsFollowTheHollows(t *testing.T) {
	for _, c := range []struct {
		name     string
		m        *mesh.Mesh
		lo, most int
	}{
		{"ellipsoid", ellipsoid(30, 20, 10, 4), fastLeast, fastLeast},
		{"gyroid", solid.GyroidCube(1.5), 4 * fastLeast, fastMost},
	} {
		got, err := fastPanels(t.Context(), c.m, 2)
		if err != nil {
			t.Fatal(err)
		}
		if got < c.lo || got > c.most {
			t.Errorf("%s: %d panels, want %d to %d", c.name, got, c.lo, c.most)
		}
	}
}

// Real parts: what lies far out takes more than the mean, what lies in hollows and
// faces metal nearby takes less.
func TestRealPartsStandToReason(t *testing.T) {
	t.Parallel()
	for _, path := range []string{
		meshtest.Testdata(t, "parts", "lander-bracket.stl"), meshtest.Shared(t, "hook-organic.stl"), meshtest.Shared(t, "rail-mount.stl"),
	} {
		p := parttest.Read(t, path, mesh.Unit{})
		m := p.Mesh
		r, err := Fast(t.Context(), m, Options{MaxPanels: 2000})
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := m.Bounds()
		size := hi.Sub(lo).Norm()
		rooms := newRooms(m, 0)
		var sum, area [3]float64 // far out, in hollows, other
		for f, factor := range r.PerFacet {
			a, b, c := m.Triangle(f)
			at := a.Add(b).Add(c).Mul(1. / 3)
			k := 2
			switch {
			case rooms.at(at, m.FacetNormal(f), size) < size/6:
				k = 1
			case at.Sub(lo.Add(hi).Mul(0.5)).Norm() > 0.4*size:
				k = 0
			}
			sum[k] += m.FacetArea(f) * factor
			area[k] += m.FacetArea(f)
		}
		tips, hollows := sum[0]/area[0], sum[1]/area[1]
		t.Logf("%s: far out %.3f over %.2f of the area, in hollows %.3f over %.2f", p.Name, tips, area[0]/m.Area(), hollows, area[1]/m.Area())
		if !(tips > 1.1 && hollows < 0.95) {
			t.Errorf("%s: factor %.3f far out and %.3f in hollows, want above 1.1 and below 0.95", p.Name, tips, hollows)
		}
	}
}

// Tips stand high and crotches low on an organic part.
func TestTipsHighCrotchesLow(t *testing.T) {
	m := solid.Merge(solid.Icosphere(1, 3), solid.Shift(solid.Icosphere(1, 3), r3.Vector{X: 2.2}))
	r, err := Fast(t.Context(), m, Options{})
	if err != nil {
		t.Fatal(err)
	}
	tip, crotch := fluxAt(m, r, r3.Vector{X: -1}), fluxAt(m, r, r3.Vector{X: 1})
	if tip < 10*crotch {
		t.Errorf("flux at the outer pole %v, in the gap %v: want ten times less there", tip, crotch)
	}
}

// A polarised bath is more even than the primary distribution and less even than the uniform one.
func TestPolarisedLiesBetween(t *testing.T) {
	m := ellipsoid(3, 2, 1, 3)
	r := solved(t, m, Options{AsMeshed: true, PolarisationMM: 0.5})
	s, primary := r.Spread(m), solved(t, m, Options{AsMeshed: true}).Spread(m)
	if !(primary.Min < s.Min && s.Min < 1 && primary.Max > s.Max && s.Max > 1) {
		t.Errorf("spread %+v: want it between %+v and 1", s, primary)
	}
	// Median and shares are ordered, and the extremes are the facets' own.
	for _, p := range [][2]float64{{s.Min, s.P01}, {s.P01, s.P05}, {s.P05, s.Median}, {s.Median, s.P95}, {s.P95, s.P99}, {s.P99, s.Max}} {
		if p[0] > p[1] {
			t.Errorf("spread is not ordered: %+v", s)
		}
	}
	// Nothing left: the least exposed facet sets the depth; some left: less.
	all, some := r.Reached(m, 0.1, 0), r.Reached(m, 0.1, 0.05)
	if math.Abs(all*s.Min-0.1) > 1e-12 || some >= all || math.Abs(some*s.P05-0.1) > 0.002 {
		t.Errorf("depth at factor 1 = %v for all, %v with 5 %% left; spread %+v", all, some, s)
	}
}
