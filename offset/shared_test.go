package offset_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/part"
	"skinstock/mesh/part/parttest"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/region"
)

// promised is the shortfall in mm that no place outside the findings may have.
const promised = 0.001

// heavy asks for the allowances of real meshes and the numbers of workers that
// take minutes, late for those that must pass but take their tens of seconds.
var (
	heavy = flag.Bool("heavy", false, "grow every real mesh by every allowance, hard parts with 1, 2 and 8 workers")
	late  = flag.Bool("late", false, "grow parts by the allowances that a plain run leaves to .ci/run")
)

// soundMeshes are the real meshes that are closed, or become so by mending, and
// the factor that brings them to a printable size.
var soundMeshes = []struct {
	file  string
	scale float64
	lacks bool      // some stock is missing, as findings say; all others have theirs everywhere
	slow  bool      // left out of short runs
	light []float64 // allowances of plain runs, nil for the three; unlike for one that differs from skin to skin
	late  []float64 // allowances of runs with -late
}{
	{file: "plate-holes.stl"},
	{file: "l-bracket.stl"},
	{file: "rail-mount.stl"},
	{file: "pipe-stand-base.stl"},
	{file: "wing-nut.stl", scale: 5},
	{file: "nut-coarse.stl"},
	{file: "tray-thin-cutouts.stl"},
	{file: "case-upper.stl", lacks: true, slow: true, light: []float64{}, late: []float64{50, 150, unlike, 400}},
	{file: "shade-small-thin.stl"},
	{file: "cell-rack.stl"},
	{file: "soap-dish.stl", lacks: true, light: []float64{150}, late: []float64{50, 400}},
	{file: "floater-four-bodies.stl", lacks: true, light: []float64{150}, late: []float64{50, 400}},
	{file: "pipe-cross-5way-517k.stl", slow: true, light: []float64{150}, late: []float64{50, 400}},
	{file: "gyroid-solid-a.stl", lacks: true, slow: true, light: []float64{150}, late: []float64{50, unlike, 400}},
	{file: "chain-40-links.stl", lacks: true, slow: true, light: []float64{150}, late: []float64{50, unlike, 400}},
	{file: "voronoi-beam-lattice.stl", lacks: true, slow: true, light: []float64{}, late: []float64{50, 150, 400}},
	{file: "regulator-m.stl", scale: 1000},
	{file: "bin-thin-m.stl", scale: 1000, lacks: true, light: []float64{150}, late: []float64{50, unlike, 400}},
	{file: "hook-organic.stl", scale: 50, slow: true, light: []float64{50, unlike, 400}, late: []float64{150}},
	{file: "busted-scan.stl", scale: 10},
	{file: "two-cubes-one-edge.stl", scale: 10},
	{file: "sculpture-facet-colours.stl", scale: 5, lacks: true},
	{file: "binary-nul-header.stl", scale: 10},
	{file: "ascii-cjk-name.stl", scale: 10},
	{file: "ascii-two-solids.stl", scale: 10},
	{file: "exporter-24-shells.stl", lacks: true, light: []float64{150}, late: []float64{50, 400}},
}

// unlike stands for allowances that differ from skin to skin.
const unlike = 0

var unlikeUM = map[region.Skin]float64{region.Upskin: 60, region.Vertical: 80, region.Downskin: 150}

// Every sound mesh grows by 0.05, 0.15 and 0.4 mm into one that is closed,
// manifold and free of crossings, which an independent program confirms of the
// file, and is short of stock only where a finding says so.
func TestSharedMeshesCarryTheirStock(t *testing.T) {
	meshtest.Shared(t, "MANIFEST.md")
	for _, s := range soundMeshes {
		t.Run(s.file, func(t *testing.T) {
			if s.slow && testing.Short() {
				t.Skip("large part left out of a short run")
			}
			ums := s.light
			switch {
			case *heavy:
				ums = []float64{50, 150, 400, unlike}
			case *late:
				ums = s.late
			case ums == nil:
				ums = []float64{50, 150, 400}
			}
			for _, um := range ums {
				fixed := everySkin(um)
				if um == unlike {
					fixed = unlikeUM
				}
				res := grownMesh(t, s.file, s.scale, fixed)
				sound(t, res)
				carries(t, res, fixed)
				written := filepath.Join(t.TempDir(), "grown.stl")
				f, err := os.Create(written)
				require.NoError(t, err)
				require.NoError(t, stl.WriteBinary(f, res.Grown, "grown"))
				require.NoError(t, f.Close())
				meshtest.Admesh(t, written, len(res.Grown.Facets), res.GrownMM3)
				if *late || *heavy {
					denserAgrees(t, res, 500_000)
				}
				if !s.lacks {
					require.Empty(t, of(res, "stock_missing"), "%g um", um)
				}
			}
		})
	}
}

// grown keeps what tests with the same mesh and allowances share.
var grown sync.Map

// grownMesh grows a real mesh.
func grownMesh(t *testing.T, name string, scale float64, fixed map[region.Skin]float64) *offset.Result {
	t.Helper()
	p := scaledPart(t, name, scale)
	once, _ := grown.LoadOrStore(fmt.Sprint(name, fixed), sync.OnceValues(func() (*offset.Result, error) {
		return offset.Compensate(context.Background(), p, jobOf(t, fixed))
	}))
	res, err := once.(func() (*offset.Result, error))()
	require.NoError(t, err)
	return res
}

// scaledPart reads a real mesh and brings it to a printable size.
func scaledPart(t *testing.T, name string, scale float64) *part.Part {
	t.Helper()
	if scale == 0 {
		return parttest.Shared(t, name)
	}
	f, err := os.Open(meshtest.Shared(t, name))
	require.NoError(t, err)
	defer f.Close()
	file, err := stl.Read(f, -1, stl.Options{})
	require.NoError(t, err)
	m := &mesh.Mesh{}
	for _, c := range file.Soup.Corners {
		var t [3]int32
		for k, v := range c {
			t[k] = int32(len(m.Vertices))
			m.Vertices = append(m.Vertices, r3.Vector{X: float64(v[0]), Y: float64(v[1]), Z: float64(v[2])}.Mul(scale))
		}
		m.Facets = append(m.Facets, t)
	}
	var b bytes.Buffer
	require.NoError(t, stl.WriteBinary(&b, m, "scaled"))
	p, err := part.Read(name, &b, int64(b.Len()), part.Options{})
	require.NoError(t, err)
	return p
}

// carries checks that every patch of surface that lacks stock has a finding on it
// that says so, of at least its depth: stock left out of the wanted um, and stock
// that the proof misses. Patches beyond those that are listed may be no deeper
// than the listed ones, and no more than the finding about the rest counts.
func carries(t *testing.T, res *offset.Result, wantedUM map[region.Skin]float64) {
	t.Helper()
	m := res.Nominal
	leftOut, short := make([]float64, len(m.Facets)), make([]float64, len(m.Facets))
	for f, c := range res.Allowance {
		leftOut[f] = wantedUM[res.Sorting.Skin[f]]/1000 - min(c[0], c[1], c[2])
		w := m.Facets[f]
		short[f] = -min(res.Proof.FacetDeviation[f], res.Proof.VertexDeviation[w[0]], res.Proof.VertexDeviation[w[1]], res.Proof.VertexDeviation[w[2]])
	}
	tree, in := bvh.New(m, 0), m.Incidence()
	for _, l := range []struct {
		what string
		lack []float64
	}{{"left out", leftOut}, {"missing", short}} {
		depth, patch := patches(m, l.lack)
		said := make([]float64, len(depth)) // the depth that the findings on a patch tell
		rest, bound := 0, 0.0
		for _, f := range of(res, "stock_missing") {
			if f.At == nil {
				rest, bound = rest+f.Count, max(bound, f.SizeMM)
				continue
			}
			var on []int
			tree.VisitBall(*f.At, 1e-6, func(g int) bool {
				on = append(on, g)
				return true
			})
			// A place of the grown surface above can be worse, and hold together what
			// lacks nothing itself: a patch of so many facets reaches so many steps.
			if !strings.Contains(f.Message, "left out") {
				on = around(m, in, on, f.Count-1)
			}
			for _, g := range on {
				if patch[g] >= 0 {
					said[patch[g]] = max(said[patch[g]], f.SizeMM)
				}
			}
		}
		for i, d := range depth {
			if d > said[i]+1e-9 {
				rest--
				require.LessOrEqual(t, d, bound+1e-9, "%s: %g mm at a patch that no finding tells of", l.what, d)
				require.GreaterOrEqual(t, rest, 0, "%s: %g mm at a patch that no finding counts", l.what, d)
			}
		}
	}
	if g := res.Proof.GrownShortfall; g.Value > promised {
		require.True(t, slices.ContainsFunc(of(res, "stock_missing"), func(f finding.Finding) bool {
			return f.At != nil && f.SizeMM >= g.Value-1e-9
		}), "short by %g mm seen from the grown side", g.Value)
	}
}

// around returns the facets that so many steps from corner to corner reach.
func around(m *mesh.Mesh, in *mesh.Incidence, facets []int, steps int) []int {
	reached := make(map[int]bool)
	for _, f := range facets {
		reached[f] = true
	}
	for first := 0; steps > 0; steps-- {
		rim := facets[first:]
		first = len(facets)
		for _, f := range rim {
			for _, v := range m.Facets[f] {
				for _, c := range in.Of(v) {
					if g := int(c / 3); !reached[g] {
						reached[g] = true
						facets = append(facets, g)
					}
				}
			}
		}
	}
	return facets
}

// patches gathers the facets that lack more than is promised into patches that
// hang together by their corners. It returns the depth of each, and the patch of each facet or -1.
func patches(m *mesh.Mesh, lack []float64) (depth []float64, patch []int) {
	in := m.Incidence()
	patch = make([]int, len(lack))
	for f := range patch {
		patch[f] = -1
	}
	for f := range lack {
		if lack[f] <= promised || patch[f] >= 0 {
			continue
		}
		n := len(depth)
		depth = append(depth, 0)
		todo := []int{f}
		patch[f] = n
		for len(todo) > 0 {
			g := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			depth[n] = max(depth[n], lack[g])
			for _, v := range m.Facets[g] {
				for _, c := range in.Of(v) {
					if h := int(c / 3); lack[h] > promised && patch[h] < 0 {
						patch[h] = n
						todo = append(todo, h)
					}
				}
			}
		}
	}
	return depth, patch
}
