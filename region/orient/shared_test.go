package orient_test

import (
	"context"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/part/parttest"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/region/orient"
)

// The score by the histogram against sorting every facet of the real mesh, with
// the islands that join their neighbours and the recipe's cost of each: within
// 2 % on all sound real meshes. A cell of normals is 1.3 degrees wide; what it
// sorts wrongly lies along two circles of the sphere.
func TestHistogramScoreAgainstMesh(t *testing.T) {
	rec, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	opt := orient.Options{
		VerticalFrom: 60 * s1.Degree, Cost: offset.DirectionCost(rec, nil),
	}
	for _, c := range []struct {
		file string
		unit float64 // mm
	}{
		{"plate-holes.stl", 1},
		{"l-bracket.stl", 1},
		{"rail-mount.stl", 1},
		{"pipe-stand-base.stl", 1},
		{"wing-nut.stl", 5},
		{"nut-coarse.stl", 1},
		{"tray-thin-cutouts.stl", 1},
		{"case-upper.stl", 1},
		{"shade-small-thin.stl", 1},
		{"cell-rack.stl", 1},
		{"soap-dish.stl", 1},
		{"floater-four-bodies.stl", 1},
		{"chain-40-links.stl", 1},
		{"regulator-m.stl", 1000},
		{"bin-thin-m.stl", 1000},
		{"hook-organic.stl", 60},
		{"busted-scan.stl", 1},
		{"gyroid-solid-a.stl", 1},
		{"sculpture-facet-colours.stl", 1},
		{"ascii-cjk-name.stl", 1},
		{"pipe-cross-5way-517k.stl", 1},
		{"voronoi-beam-lattice.stl", 1},
	} {
		t.Run(c.file, func(t *testing.T) {
			p := parttest.Read(t, meshtest.Shared(t, c.file), mesh.Unit{Name: "scaled", MM: c.unit})
			for _, opt.MinIslandMM2 = range []float64{0, rec.Geometry.MinIslandMM2.Value} {
				if opt.MinIslandMM2 > 0 && c.file == "ascii-cjk-name.stl" {
					continue // its rim is one island of a square millimetre beside the next
				}
				quick, full, err := orient.Both(context.Background(), p.Mesh, p.Topo, opt, orient.Even(12))
				require.NoError(t, err)
				for i := range quick {
					require.InEpsilon(t, full[i].Score, quick[i].Score, 0.02, "direction %v", quick[i].Dir)
					require.InEpsilon(t, full[i].Cost.TimeMin, quick[i].Cost.TimeMin, 0.02)
					require.InEpsilon(t, full[i].Tally.HeightMM, quick[i].Tally.HeightMM, 0.02)
				}
			}
		})
	}
}
