package mesh_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/stl/stltest"
)

// realMesh is what Build makes of a real file. Volumes are those of the
// folder's manifest, measured by another program on corners welded bit for
// bit, in file units cubed.
type realMesh struct {
	name   string
	facets int
	shells int
	volume float64
	mends  map[mesh.MendKind]int
}

// The sound files come through without a mend.
var soundMeshes = []realMesh{
	{"plate-holes.stl", 1252, 1, 767362, nil},
	{"rail-mount.stl", 5348, 1, 46057.4, nil},
	{"pipe-stand-base.stl", 7884, 1, 200487, nil},
	{"wing-nut.stl", 6090, 1, 22.0966, nil},
	{"nut-coarse.stl", 2418, 1, 105.591, nil},
	{"tray-thin-cutouts.stl", 4520, 1, 347866, nil},
	{"shade-small-thin.stl", 1800, 1, 26935, nil},
	{"floater-four-bodies.stl", 2740, 4, 33754.7, nil}, // 2 um apart, and stay so
	{"pipe-cross-5way-517k.stl", 517020, 1, 64532, nil},
	{"chain-40-links.stl", 7680, 40, 32583.9, nil},
	{"hook-organic.stl", 19584, 1, 0.0123266, nil},
	{"busted-scan.stl", 3878, 1, 526.449, nil},
	{"sculpture-facet-colours.stl", 536, 1, 654.132, nil},
	{"binary-solid-header.stl", 4, 1, 0.166667, nil},
	{"binary-nul-header.stl", 68, 1, 1.4166, nil},
	{"binary-bad-unicode-header.stl", 12, 1, 8, nil},
	{"ascii-cjk-name.stl", 116, 1, 0.888723, nil},
	{"ascii-two-solids.stl", 24, 2, 2, nil},
}

// The damaged files that can be mended without guessing.
var mendedMeshes = []realMesh{
	// Two strips of facets 4e-16 mm wide: their edges are closed up, and four facets fold.
	{"l-bracket.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	{"bad-count-high.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	{"bad-count-zero.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	{"bad-colour.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	{"bad-ascii-upper-crlf.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	{"bad-ascii-bom.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2}},
	// Vertices 8e-6 to 1.7e-5 mm apart on a part of 206 mm, where float32 numbers are 1.5e-5 apart.
	{"case-upper.stl", 44398 - 2782, 1, 59771.6, map[mesh.MendKind]int{mesh.MendFolded: 2782, mesh.MendShortEdge: 1391, mesh.MendFlat: 17}},
	// Corners in a row.
	{"bin-thin-m.stl", 1376, 1, 0.0179451, map[mesh.MendKind]int{mesh.MendFlat: 2}},
	{"cell-rack.stl", 1540, 1, 218081, map[mesh.MendKind]int{mesh.MendFlat: 4}},
	{"soap-dish.stl", 6408, 1, 26588.2, map[mesh.MendKind]int{mesh.MendFlat: 2}},
	{"regulator-m.stl", 528, 1, 0.000397645, map[mesh.MendKind]int{mesh.MendFlat: 1}},
	// Corners that differ by rounding alone.
	{"gyroid-solid-a.stl", 31256, 1, 461074, map[mesh.MendKind]int{mesh.MendCrack: 8}},
	{"idler-riser-cracked.stl", 1572, 1, 1.4878, map[mesh.MendKind]int{mesh.MendCrack: 21}},
	{"pocket-flaps-m.stl", 3262, 1, 0.000250353, map[mesh.MendKind]int{mesh.MendCrack: 27}},
	{"angle-block-cracked.stl", 704, 1, 1.14552, map[mesh.MendKind]int{mesh.MendCrack: 46}},
	// Vertices of one face in the middle of the other's edge.
	{"csg-t-junctions-ascii.stl", 1420 + 366, 1, 82813.1, map[mesh.MendKind]int{mesh.MendTJunction: 366}},
	// Two edges where a point of the outline touches a wall. Their ends are one
	// surface, so each sheet gets a vertex in the middle: two facets more an edge.
	{"profile-touching-edge.stl", 980 + 4, 1, 2264.41, map[mesh.MendKind]int{mesh.MendTouchEdge: 2}},
	{"two-cubes-one-edge.stl", 24, 2, 2, map[mesh.MendKind]int{mesh.MendTouchEdge: 1}},
	// Beams in line share their end caps, back to back: 266 pairs go, and the
	// bars become one. Others touch in an edge or a vertex.
	{"voronoi-beam-lattice.stl", 61968 - 2*266, 910, 25626.8, map[mesh.MendKind]int{
		mesh.MendInnerWall: 532, mesh.MendTouchEdge: 419, mesh.MendTouchPoint: 1269,
	}},
	// Two rods drawn against the cap of another rod without caps of their own:
	// the caps, of six facets each, have metal on both sides. The manifest's
	// 966.172 is that of a surface that is not closed; admesh 0.98 finds
	// 972.50592 on the mesh written out.
	{"exporter-24-shells.stl", 2000 - 12, 24, 972.5059, map[mesh.MendKind]int{mesh.MendInnerWall: 12}},
	{"bad-inside-out.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2, mesh.MendInverted: 1}},
	{"bad-flip-third.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 4, mesh.MendShortEdge: 2, mesh.MendWinding: 86}},
	{"bad-duplicates.stl", 256, 1, 2606.29, map[mesh.MendKind]int{mesh.MendFolded: 5, mesh.MendShortEdge: 2, mesh.MendDuplicate: 51}},
}

func TestRealMeshes(t *testing.T) {
	for _, c := range append(append([]realMesh(nil), soundMeshes...), mendedMeshes...) {
		t.Run(c.name, func(t *testing.T) {
			m, rep, err := buildWhole(t, stltest.Soup(t, meshtest.Shared(t, c.name)), mesh.BuildOptions{UnitMM: 1})
			require.NoError(t, err)
			topo := m.Topology()
			require.True(t, topo.Closed())
			requireFans(t, m, topo)
			require.Equal(t, c.facets, len(m.Facets))
			require.Equal(t, c.shells, len(m.Shells(topo)))
			// Six digits are what the manifest gives.
			require.InEpsilon(t, c.volume, m.Volume(), 5e-6)
			total := 0
			for k, n := range c.mends {
				require.Equal(t, n, rep.Of(k), k.String())
				total += n
			}
			require.Equal(t, total, rep.Total(), "no other mends: %v", rep.Mends)
			if total == 0 {
				require.Nil(t, m.Source)
			}
		})
	}
}

// requireFans checks by the count of turns that every vertex is the middle of one fan.
func requireFans(t require.TestingT, m *mesh.Mesh, topo *mesh.Topology) {
	in := m.Incidence()
	for v := range m.Vertices {
		around := in.Of(int32(v))
		require.NotEmpty(t, around, "vertex without a facet")
		n := 0
		for h := around[0]; ; {
			n++
			h = topo.Twin[mesh.Prev(h)]
			if h == around[0] {
				break
			}
		}
		require.Equal(t, len(around), n, "vertex %d has more than one fan", v)
	}
}

// The files that cannot be mended without guessing.
func TestRealMeshesRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		open int // edges left open when all that is safe is mended; -1 for any
	}{
		{"sphere-with-hole.stl", 9},
		{"soup-random.stl", 300},
		{"ascii-empty-second-solid.stl", 3},
		{"ascii-comments.stl", 3},
		{"ascii-no-normal.stl", 3},
		{"bottle-shattered.stl", -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, rep, err := buildWhole(t, stltest.Soup(t, meshtest.Shared(t, c.name)), mesh.BuildOptions{UnitMM: 1})
			var e *mesh.NotSolidError
			require.ErrorAs(t, err, &e)
			require.Nil(t, m)
			require.NotNil(t, rep)
			if c.open >= 0 {
				require.Equal(t, c.open, e.Open)
			}
			require.Positive(t, e.Open)
			require.Positive(t, e.WeldTolMM)
			require.Contains(t, err.Error(), "open edges")
		})
	}
}
