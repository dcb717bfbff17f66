package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/mesh/meshtest"
	"skinstock/report"
)

// outcome is what compensate must make of a real mesh.
type outcome struct {
	file    string
	units   string // mm when empty
	refused string // pattern of the message, empty for a mesh that must come out grown
	mended  string // a repair that must be reported, when the mesh needs one
	united  bool   // the input's facets cross: its bodies are united first
	cleaned bool   // they cross at slivers only, which are taken out
	planned bool   // planned only: the pipeline's own test grows it, and has its file judged
	late    bool   // takes seconds, and the pipeline's own test grows it: left to .ci/run
}

// late asks for the large parts that a plain run leaves to .ci/run.
var late = flag.Bool("late", false, "run the large real meshes too that a plain run leaves out")

// outcomes follow the kinds in the meshes' own MANIFEST: sound ones and
// mendable ones grow, open and broken ones are refused with place and cause.
var outcomes = []outcome{
	{file: "plate-holes.stl"},
	{file: "l-bracket.stl"},
	{file: "rail-mount.stl"},
	{file: "pipe-stand-base.stl", cleaned: true},
	{file: "wing-nut.stl", cleaned: true},
	{file: "nut-coarse.stl"},
	{file: "tray-thin-cutouts.stl"},
	{file: "case-upper.stl", planned: true, mended: "flat_facets"},
	{file: "shade-small-thin.stl"},
	{file: "cell-rack.stl", mended: "flat_facets"},
	{file: "soap-dish.stl", cleaned: true},
	{file: "floater-four-bodies.stl"},
	{file: "pipe-cross-5way-517k.stl", late: true},
	{file: "gyroid-solid-a.stl", planned: true, mended: "cracks"},
	{file: "voronoi-beam-lattice.stl", united: true, mended: "inner_walls", late: true},
	{file: "chain-40-links.stl", planned: true},
	{file: "regulator-m.stl", units: "m", mended: "flat_facets"},
	{file: "bin-thin-m.stl", units: "m", late: true},
	{file: "hook-organic.stl", planned: true},
	{file: "idler-riser-cracked.stl", units: "inch", mended: "cracks"},
	{file: "pocket-flaps-m.stl", units: "m", mended: "cracks"},
	{file: "angle-block-cracked.stl", units: "inch", mended: "cracks"},
	{file: "csg-t-junctions-ascii.stl", mended: "t_junctions"},
	{file: "bottle-shattered.stl", refused: `does not close: \d+ open edges.*; the first at \(`},
	{file: "profile-touching-edge.stl", mended: "touching_edges", united: true},
	{file: "busted-scan.stl"},
	{file: "soup-random.stl", refused: `does not close: 300 open edges`},
	{file: "two-cubes-one-edge.stl", mended: "touching_edges"},
	{file: "sphere-with-hole.stl", refused: `does not close: 9 open edges`},
	{file: "exporter-24-shells.stl", mended: "inner_walls", united: true, late: true},
	{file: "sculpture-facet-colours.stl"},
	{file: "binary-solid-header.stl"},
	{file: "binary-nul-header.stl"},
	{file: "binary-bad-unicode-header.stl"},
	{file: "ascii-cjk-name.stl"},
	{file: "ascii-two-solids.stl"},
	{file: "ascii-empty-second-solid.stl", refused: `does not close: 3 open edges`},
	{file: "ascii-comments.stl", refused: `does not close: 3 open edges`},
	{file: "ascii-no-normal.stl", refused: `does not close: 3 open edges`},
	{file: "empty-ascii.stl", refused: `line 3: the file ends and holds no facets`},
	{file: "empty-binary.stl", refused: `byte 80: the file ends .* holds no facets`},
	{file: "bad-truncated.stl", refused: `byte 7907: the file ends inside facet 157 of the 260`},
	{file: "bad-count-high.stl"},
	{file: "bad-count-zero.stl"},
	{file: "bad-nan-inf.stl", refused: `byte 266: facet 4: z of corner 2 is NaN`},
	{file: "bad-inside-out.stl", mended: "inverted_shells"},
	{file: "bad-flip-third.stl", mended: "winding"},
	{file: "bad-duplicates.stl", mended: "duplicate_facets"},
	{file: "bad-colour.stl"},
	{file: "bad-ascii-upper-crlf.stl"},
	{file: "bad-ascii-bom.stl"},
}

// runHere runs a command in this process with buffers for its streams.
func runHere(t testing.TB, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	code = run(context.Background(), args, &console.Console{In: strings.NewReader(""), Out: &out, Err: &err})
	return code, out.String(), err.String()
}

func TestSharedMeshesCompensate(t *testing.T) {
	dir := filepath.Dir(meshtest.Shared(t, "MANIFEST.md"))
	files, err := filepath.Glob(filepath.Join(dir, "*.stl"))
	require.NoError(t, err)
	require.Len(t, files, len(outcomes), "a mesh without an outcome, or an outcome without its mesh")
	for _, o := range outcomes {
		t.Run(o.file, func(t *testing.T) {
			if o.late && !*late {
				t.Skip("a large part, left to -late")
			}
			o.check(t, filepath.Join(dir, o.file))
		})
	}
}

func (o outcome) check(t *testing.T, path string) {
	units := o.units
	if units == "" {
		units = "mm"
	}
	tmp := t.TempDir()
	grown, doc := filepath.Join(tmp, "grown.stl"), filepath.Join(tmp, "report.json")
	args := []string{"compensate", path, "-o", grown}
	if o.planned {
		args = []string{"plan", path}
	}
	code, _, stderr := runHere(t, append(args, "--json", doc, "--units", units, "--allowance-um", "upskin=60,vertical=80,downskin=150", "--fail-on", "never")...)
	if o.refused != "" {
		require.Equal(t, exitInput, code, stderr)
		require.Regexp(t, regexp.QuoteMeta(path)+": .*"+o.refused, stderr)
		require.Equal(t, 1, strings.Count(stderr, "\n"), "one clear line: %s", stderr)
		left, _ := os.ReadDir(tmp)
		require.Empty(t, left, "nothing is left behind")
		return
	}
	require.Equal(t, exitDone, code, stderr)
	var d report.Document
	b, err := os.ReadFile(doc)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &d))
	require.Equal(t, o.mended != "" && d.Input.Repairs[o.mended] > 0, o.mended != "", "%v", d.Input.Repairs)
	found := map[string]bool{}
	for _, f := range d.Findings {
		found[f.Code] = true
	}
	require.Equal(t, o.united, found["self_crossing_input"])
	require.Equal(t, o.cleaned, found["cleaned"])
	if o.planned {
		return
	}
	require.Greater(t, d.Output.VolumeMM3, d.Input.VolumeMM3*0.999, "a united lattice may lose its overlaps, nothing else shrinks")
	meshtest.Admesh(t, grown, d.Output.Triangles, float64(d.Output.VolumeMM3))
}
