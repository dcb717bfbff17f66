package verify

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// The ridge of a roof ends at a gable that calls for half as much. The grown surface
// above sinks towards the gable and 10 um are lacking where the ridge ends, but there
// the gable is as near, and what stands beyond it loses only half as much: neither the
// vertices of the two nor what lies in the midst of their facets is short. Beside the end
// it is found from either side.
func TestRidgeEndsAtAStep(t *testing.T) {
	const (
		high, low = 0.2, 0.1
		lacking   = 0.01
		sinks     = 0.05 // mm a mm
	)
	roof := &mesh.Mesh{
		Vertices: []r3.Vector{{X: -1}, {X: 1}, {X: -1, Y: -1, Z: -1}, {X: 1, Y: -1, Z: -1}, {X: -1, Y: 1, Z: -1}, {X: 1, Y: 1, Z: -1}},
		Facets:   [][3]int32{{2, 3, 1}, {2, 1, 0}, {4, 0, 1}, {4, 1, 5}, {2, 4, 5}, {2, 5, 3}, {0, 4, 2}, {1, 3, 5}},
	}
	w := make(mesh.CornerField, len(roof.Facets))
	for f := range w {
		w[f] = [3]float64{high, high, high}
	}
	w[7] = [3]float64{low, low, low} // the gable at x = 1
	for _, split := range []bool{false, true} {
		grown := lid(split, func(x float64) float64 { return high - lacking + sinks*(1-x) })
		if topo := grown.Topology(); topo.OpenEdges+topo.WrongWayEdges > 0 || grown.Volume() <= 0 {
			t.Fatalf("not a solid: %+v", topo)
		}
		p := mustVerify(t, roof, grown, w, Options{Samples: 1})
		near(t, "shortfall from the nominal side", p.All.Shortfall.Max.Value, lacking, 0.001)
		if split { // an edge runs over the ridge
			near(t, "from the grown side", p.GrownShortfall.Value, lacking, 0.001)
		}
	}
}

// lid returns a box around x from -1.3 to 1.25, y from -2 to 2, z from -2 to the given
// height over x, whose top has a line in its middle when it is split.
func lid(split bool, height func(x float64) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, x := range []float64{-1.3, 1.25} {
		for _, y := range []float64{-2, 2} {
			m.Vertices = append(m.Vertices, r3.Vector{X: x, Y: y, Z: -2}, r3.Vector{X: x, Y: y, Z: height(x)})
		}
	}
	quad := func(a, b, c, d int32) {
		m.Facets = append(m.Facets, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	quad(0, 2, 6, 4) // bottom
	quad(0, 4, 5, 1)
	quad(2, 3, 7, 6)
	if !split {
		quad(1, 5, 7, 3)
		quad(0, 1, 3, 2)
		quad(4, 6, 7, 5)
		return m
	}
	m.Vertices = append(m.Vertices, r3.Vector{X: -1.3, Z: height(-1.3)}, r3.Vector{X: 1.25, Z: height(1.25)})
	quad(1, 5, 9, 8)
	quad(8, 9, 7, 3)
	m.Facets = append(m.Facets, [3]int32{0, 1, 8}, [3]int32{0, 8, 2}, [3]int32{8, 3, 2}, [3]int32{4, 9, 5}, [3]int32{4, 6, 9}, [3]int32{6, 7, 9})
	return m
}
