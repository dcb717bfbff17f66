package verify

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// A fold of the grown surface crosses a ridge of the part at a right angle, 195 um
// above it. All vertices, and all places inside facets, stand further off: between
// the crossing lines alone lies the 0.195 mm.
func TestFoldOverRidgeIsFound(t *testing.T) {
	roof := &mesh.Mesh{
		Vertices: []r3.Vector{{X: -1}, {X: 1}, {X: -1, Y: -1, Z: -1}, {X: 1, Y: -1, Z: -1}, {X: -1, Y: 1, Z: -1}, {X: 1, Y: 1, Z: -1}},
		Facets:   [][3]int32{{2, 3, 1}, {2, 1, 0}, {4, 0, 1}, {4, 1, 5}, {2, 4, 5}, {2, 5, 3}, {0, 4, 2}, {1, 3, 5}},
	}
	trough := &mesh.Mesh{}
	quad := func(a, b, c, d int32) {
		trough.Facets = append(trough.Facets, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	for x := -2.0; x <= 2; x += 2 { // four vertices each: bottom and top at y = -2, then at 2
		top := 0.195
		if x != 0 {
			top = 1
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
	w := uniform(roof, 0.2)
	one := mustVerify(t, roof, trough, w, Options{Samples: 1, OneWay: true})
	if !one.Within() {
		t.Fatalf("seen by the part's own places already: %+v", one.All.Shortfall.Max)
	}
	p := mustVerify(t, roof, trough, w, Options{Samples: 1})
	near(t, "shortfall", p.GrownShortfall.Value, 0.005, Resolution)
	near(t, "its place", p.GrownShortfall.At.Distance(r3.Vector{Z: 0.195}), 0, 1e-5)
	if len(p.ShortfallPlaces) != 1 {
		t.Fatalf("places: %+v", p.ShortfallPlaces)
	}
	near(t, "the ridge below", p.ShortfallPlaces[0].At.Norm(), 0, 1e-5)
}
