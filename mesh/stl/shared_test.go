package stl

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"skinstock/mesh/meshtest"
)

// sharedRow is what becomes of a real mesh, after the folder's own manifest.
type sharedRow struct {
	facets     int
	format     Format
	warnings   []string
	attributes bool
	err        error
}

var sharedRows = map[string]sharedRow{
	"plate-holes.stl":               {facets: 1252},
	"l-bracket.stl":                 {facets: 260, format: ASCII},
	"rail-mount.stl":                {facets: 5348, format: ASCII},
	"pipe-stand-base.stl":           {facets: 7884},
	"wing-nut.stl":                  {facets: 6090},
	"nut-coarse.stl":                {facets: 2418},
	"tray-thin-cutouts.stl":         {facets: 4520},
	"case-upper.stl":                {facets: 44398},
	"shade-small-thin.stl":          {facets: 1800, format: ASCII},
	"cell-rack.stl":                 {facets: 1540, format: ASCII},
	"soap-dish.stl":                 {facets: 6408},
	"floater-four-bodies.stl":       {facets: 2740, format: ASCII},
	"pipe-cross-5way-517k.stl":      {facets: 517020},
	"gyroid-solid-a.stl":            {facets: 31256},
	"voronoi-beam-lattice.stl":      {facets: 61968},
	"chain-40-links.stl":            {facets: 7680},
	"regulator-m.stl":               {facets: 528},
	"bin-thin-m.stl":                {facets: 1376, warnings: []string{CodeReversed}},
	"hook-organic.stl":              {facets: 19584},
	"idler-riser-cracked.stl":       {facets: 1572},
	"pocket-flaps-m.stl":            {facets: 3262},
	"angle-block-cracked.stl":       {facets: 704},
	"csg-t-junctions-ascii.stl":     {facets: 1420, format: ASCII},
	"bottle-shattered.stl":          {facets: 1240, format: ASCII},
	"profile-touching-edge.stl":     {facets: 980, format: ASCII},
	"busted-scan.stl":               {facets: 3878},
	"soup-random.stl":               {facets: 100},
	"two-cubes-one-edge.stl":        {facets: 24},
	"sphere-with-hole.stl":          {facets: 285, format: ASCII},
	"exporter-24-shells.stl":        {facets: 2000},
	"sculpture-facet-colours.stl":   {facets: 536, attributes: true},
	"binary-solid-header.stl":       {facets: 4},
	"binary-nul-header.stl":         {facets: 68},
	"binary-bad-unicode-header.stl": {facets: 12},
	"ascii-cjk-name.stl":            {facets: 116, format: ASCII},
	"ascii-two-solids.stl":          {facets: 24, format: ASCII},
	"ascii-empty-second-solid.stl":  {facets: 1, format: ASCII, warnings: []string{CodeEmpty}},
	"ascii-comments.stl":            {facets: 1, format: ASCII},
	"ascii-no-normal.stl":           {facets: 1, format: ASCII},
	"empty-ascii.stl":               {err: ErrNoFacets},
	"empty-binary.stl":              {err: ErrNoFacets},
	"bad-truncated.stl":             {err: ErrTruncated},
	"bad-count-high.stl":            {facets: 260, warnings: []string{CodeCount}},
	"bad-count-zero.stl":            {facets: 260, warnings: []string{CodeCount}},
	"bad-nan-inf.stl":               {err: ErrNotFinite},
	"bad-inside-out.stl":            {facets: 260},
	"bad-flip-third.stl":            {facets: 260, warnings: []string{CodeReversed}},
	"bad-duplicates.stl":            {facets: 312},
	"bad-colour.stl":                {facets: 260, attributes: true},
	"bad-ascii-upper-crlf.stl":      {facets: 260, format: ASCII},
	"bad-ascii-bom.stl":             {facets: 260, format: ASCII},
}

// sharedFile opens a real mesh and returns its size.
func sharedFile(t testing.TB, name string) (*os.File, int64) {
	t.Helper()
	r, err := os.Open(meshtest.Shared(t, name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	st, err := r.Stat()
	if err != nil {
		t.Fatal(err)
	}
	return r, st.Size()
}

func TestReadSharedMeshes(t *testing.T) {
	files, err := filepath.Glob(meshtest.Shared(t, "*.stl"))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != len(sharedRows) {
		t.Errorf("%d files for %d rows", len(files), len(sharedRows))
	}
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			row, ok := sharedRows[name]
			if !ok {
				t.Fatal("no row says what becomes of this file")
			}
			r, size := sharedFile(t, name)
			f, err := Read(r, size, Options{})
			if row.err != nil {
				if !errors.Is(err, row.err) {
					t.Errorf("error %v, want %v", err, row.err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if len(f.Soup.Corners) != row.facets || f.Format != row.format {
				t.Errorf("%v with %d facets, want %v with %d", f.Format, len(f.Soup.Corners), row.format, row.facets)
			}
			if !slices.Equal(codes(f), row.warnings) {
				t.Errorf("warnings %v, want %v", f.Warnings, row.warnings)
			}
			if got := f.Soup.Attributes != nil; got != row.attributes || got && len(f.Soup.Attributes) != row.facets {
				t.Errorf("%d attribute words, want any: %v", len(f.Soup.Attributes), row.attributes)
			}
		})
	}
}

func TestReadSharedSolids(t *testing.T) {
	for name, want := range map[string][]string{
		"ascii-cjk-name.stl":           {"月球"},
		"ascii-comments.stl":           {"MeshName"},
		"ascii-empty-second-solid.stl": {"testTriangle", "emptySolid"},
		"ascii-two-solids.stl":         {"CubeExportedFromCAD", "TranslatedCubeExportedFromCAD"},
		"bottle-shattered.stl":         {"FLIRIS"},
		"bad-ascii-bom.stl":            nil,
	} {
		r, size := sharedFile(t, name)
		f, err := Read(r, size, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, s := range f.Soup.Solids {
			got = append(got, s.Name)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: solids %q, want %q", name, got, want)
		}
	}
}
