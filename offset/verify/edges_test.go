package verify

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// A fold of the grown surface crosses a ridge of the part at a right angle, 5 um
// nearer than what is called for there, be that the same all along the ridge or less
// at one end than at the other. All vertices, and all places inside facets, stand
// further off: between the crossing lines alone the 5 um are lacking.
func TestFoldOverRidgeIsFound(t *testing.T) {
	for _, c := range []struct{ rise, at float64 }{{0, 0}, {0.1, 0.5}, {0.1, -0.5}, {-0.1, 0.25}} {
		foldOverRidge(t, c.rise, c.at)
	}
}

// foldOverRidge has the fold cross at x = at, where what is called for rises along x.
func foldOverRidge(t *testing.T, rise, at float64) {
	t.Helper()
	const lacking = 0.005
	called := func(x float64) float64 { return 0.2 + rise*x }
	roof := &mesh.Mesh{
		Vertices: []r3.Vector{{X: -1}, {X: 1}, {X: -1, Y: -1, Z: -1}, {X: 1, Y: -1, Z: -1}, {X: -1, Y: 1, Z: -1}, {X: 1, Y: 1, Z: -1}},
		Facets:   [][3]int32{{2, 3, 1}, {2, 1, 0}, {4, 0, 1}, {4, 1, 5}, {2, 4, 5}, {2, 5, 3}, {0, 4, 2}, {1, 3, 5}},
	}
	trough := &mesh.Mesh{}
	quad := func(a, b, c, d int32) {
		trough.Facets = append(trough.Facets, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	low := called(at) - lacking
	for _, x := range []float64{-2, at, 2} { // four vertices each: bottom and top at y = -2, then at 2
		top := 1.0
		if x == at {
			top = low
		}
		for y := -2.0; y <= 2; y += 4 {
			trough.Vertices = append(trough.Vertices, r3.Vector{X: x, Y: y, Z: -3}, r3.Vector{X: x, Y: y, Z: top})
		}
	}
	for i := int32(0); i < 8; i += 4 {
		quad(i+1, i+5, i+7, i+3) // top
		quad(i, i+2, i+6, i+4)   // bottom
		quad(i, i+4, i+5, i+1)
		quad(i+2, i+3, i+7, i+6)
	}
	quad(2, 0, 1, 3)
	quad(8, 10, 11, 9)
	for _, m := range []*mesh.Mesh{roof, trough} {
		if topo := m.Topology(); topo.OpenEdges+topo.WrongWayEdges > 0 || m.Volume() <= 0 {
			t.Fatalf("not a solid: %+v", topo)
		}
	}
	w := make(mesh.CornerField, len(roof.Facets))
	for f := range w {
		for k := range 3 {
			w[f][k] = called(roof.Corner(f, k).X)
		}
	}
	one := mustVerify(t, roof, trough, w, Options{Samples: 1, OneWay: true})
	if !one.Within() {
		t.Fatalf("seen by the part's own places already: %+v", one.All.Shortfall.Max)
	}
	p := mustVerify(t, roof, trough, w, Options{Samples: 1})
	near(t, "shortfall", p.GrownShortfall.Value, lacking, Resolution)
	near(t, "its place", p.GrownShortfall.At.Distance(r3.Vector{X: at, Z: low}), 0, 1e-5)
	if len(p.ShortfallPlaces) != 1 {
		t.Fatalf("places: %+v", p.ShortfallPlaces)
	}
	near(t, "the ridge below", p.ShortfallPlaces[0].At.Distance(r3.Vector{X: at}), 0, 1e-5)
}
