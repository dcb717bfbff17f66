package batch

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"
)

func TestSettingsOfJobFile(t *testing.T) {
	j, err := ParseJobs("jobs.yaml", []byte(`
version: 1
defaults: {recipe: a.yaml, build_dir: [0, 0, 1], allowance_um: 150, json: ""}
parts:
  - one.stl
  - {part: two.stl, build_dir: -y, allowance_um: {downskin: 120, upskin: 60.5}, weld_tol_mm: 0, chord_um: 0, remesh: true, ascii: true}
  - {part: three.stl, build_dir: "1,2,3", allowance_um: "upskin=1", keep: ["ball 0,0,0 diameter 3"]}
`))
	require.NoError(t, err)
	zero, yes := 0.0, true
	require.Empty(t, cmp.Diff([]Entry{
		{Part: "one.stl"},
		{Part: "two.stl", Settings: Settings{BuildDir: "-y", AllowanceUM: "downskin=120,upskin=60.5", WeldTolMM: &zero, ChordUM: &zero, Remesh: &yes, ASCII: &yes}},
		{Part: "three.stl", Settings: Settings{BuildDir: "1,2,3", AllowanceUM: "upskin=1", Keep: []string{"ball 0,0,0 diameter 3"}}},
	}, j.Parts))
	over := j.Parts[1].over(j.Defaults).over(Builtin())
	require.Equal(t, "a.yaml", over.Recipe)
	require.Equal(t, &zero, over.ChordUM)
	require.True(t, *over.Remesh)
	require.Equal(t, Direction("-y"), over.BuildDir)
	require.Equal(t, Allowance("150"), j.Parts[0].over(j.Defaults).AllowanceUM)
	require.Empty(t, *over.JSON, "an empty name in the defaults leaves the file out")
	require.Equal(t, "{part}-grown.stl", over.Output)
	require.Equal(t, 6, j.LineOf(1, "build_dir"))
	require.Equal(t, 3, j.LineOf(0, "recipe"), "said in the defaults")
	require.Equal(t, 7, j.LineOf(2, "units"), "said nowhere: the entry")
}

func TestBadJobFiles(t *testing.T) {
	for text, want := range map[string]string{
		"":                             "the file is empty",
		"# nothing":                    "the file is empty",
		"version: 1":                   "no part is named",
		"parts: [a]":                   "version 0 is not read",
		"version: 1\nparts: []":        "no part is named",
		"version: 1\nparts: [{}]":      "names no file",
		"version: 1\nparts: [a]\nx: 1": "line 3: unknown field \"x\"",
		"version: 1\nparts:\n  - {part: a, alowance_um: 3}":     "line 3: unknown field \"alowance_um\"",
		"version: 1\nparts: [a]\n---\nversion: 1":               "line 4: a second document",
		"version: 1\ndefaults: {recipe: a, recipe: b}":          "given twice",
		"version: 1\nparts: &x [*x]":                            "anchors, aliases",
		"version: 1\nparts: [{part: a, build_dir: [a, b, c]}]":  "give three numbers",
		"version: 1\nparts: [{part: a, build_dir: {}}]":         "give three numbers",
		"version: 1\nparts: [{part: a, allowance_um: [1]}]":     "give um as one number",
		"version: 1\nparts: [{part: a, allowance_um: {up: x}}]": "give um as one number",
		"version: one\nparts: [a]":                              "line 1",
		"version: 1\nparts: a":                                  "line 2",
		"\x00":                                                  "binary",
	} {
		_, err := ParseJobs("jobs.yaml", []byte(text))
		require.ErrorIs(t, err, ErrJobs, "%q", text)
		require.ErrorContains(t, err, want, "%q", text)
		require.Equal(t, 1, strings.Count(err.Error(), "jobs.yaml: "), "%q: %v", text, err)
	}
}

func TestExpand(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.stl", "b.STL", "deep/c.stl", "deep/er/d.stl", "out/a-grown.stl", "[x].stl"} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o777))
		require.NoError(t, os.WriteFile(path, []byte(name), 0o666))
	}
	require.NoError(t, os.Symlink(dir, filepath.Join(dir, "deep", "loop")))
	names := func(entries ...Entry) (names, outputs []string) {
		j := &Jobs{Version: 1, Parts: entries}
		parts, err := j.Expand(dir, filepath.Join(dir, "out"))
		require.NoError(t, err)
		for _, p := range parts {
			names, outputs = append(names, p.Name), append(outputs, p.Output)
		}
		return names, outputs
	}
	got, _ := names(Entry{Part: "**/*.stl", Except: []string{"deep/er/*"}})
	require.Equal(t, []string{"[x].stl", "a.stl", "deep/c.stl"}, got, "neither the output folder nor links are walked")
	got, out := names(Entry{Part: "[x].stl"}, Entry{Part: "./deep/../a.stl"}, Entry{Part: filepath.Join(dir, "deep", "c.stl")})
	require.Equal(t, []string{"[x].stl", "./deep/../a.stl", filepath.Join(dir, "deep", "c.stl")}, got)
	require.Equal(t, []string{"[x]-grown.stl", "a-grown.stl", "c-grown.stl"}, out)
	got, _ = names(Entry{Part: "*.stl", Settings: Settings{Output: "p/{part}.stl"}}, Entry{Part: "a.stl"})
	require.Equal(t, []string{"[x].stl", "a.stl"}, got, "a file that is named is left out of patterns")
	got, out = names(Entry{Part: "../*/a.stl"})
	require.Equal(t, []string{"../" + filepath.Base(dir) + "/a.stl"}, got)
	require.Equal(t, []string{"a-grown.stl"}, out, "what lies elsewhere stays inside the output folder")

	for _, bad := range []Entry{
		{Part: "no*.stl"},
		{Part: "[a"},
		{Part: "a\x00.stl"},
		{Part: "a.stl", Settings: Settings{Output: "../a.stl"}},
		{Part: "a.stl", Settings: Settings{Output: "x/../../a.stl"}},
		{Part: "a.stl", Settings: Settings{Output: "/a.stl"}},
		{Part: "a.stl", Settings: Settings{Output: ".skinstock/lock"}},
		{Part: "a.stl", Settings: Settings{Report: ".."}},
		{Part: "a.stl", Settings: Settings{Output: "summary.csv"}},
	} {
		j := &Jobs{Version: 1, Parts: []Entry{bad}}
		_, err := j.Expand(dir, filepath.Join(dir, "out"))
		if bad.Part == "[a" { // not a pattern, hence a name of no file: it fails in its turn
			continue
		}
		require.ErrorIs(t, err, ErrJobs, "%+v", bad)
	}
}

func FuzzParseJobs(f *testing.F) {
	f.Add([]byte("version: 1\ndefaults: {recipe: a, build_dir: [0, 0, 1], allowance_um: {upskin: 6}}\nparts:\n  - a.stl\n  - {part: '**/*.stl', except: [b], keep: [c], json: ''}\n"))
	f.Add([]byte("version: 1\nparts: [[[["))
	f.Add([]byte("version: 1\nparts: [&a {part: *a}]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		j, err := ParseJobs("fuzz", data)
		if err != nil {
			var bad *Error
			if !errors.As(err, &bad) || len(bad.Problems) == 0 {
				t.Fatalf("error without problems: %v", err)
			}
			return
		}
		dir := t.TempDir()
		parts, err := j.Expand(dir, filepath.Join(dir, "out"))
		if err != nil && !errors.Is(err, ErrJobs) {
			t.Fatal(err)
		}
		for _, p := range parts {
			for _, o := range []string{p.Output, *p.JSON, p.Report, p.Finished} {
				if o != "" && !filepath.IsLocal(o) {
					t.Fatalf("output %q leads out of the folder", o)
				}
			}
		}
	})
}

// Whatever the schema takes the reader takes, and the other way round, on files
// that differ in one place.
func TestSchemaAgreesWithReader(t *testing.T) {
	s, err := JobSchema()
	require.NoError(t, err)
	resolved, err := s.Resolve(nil)
	require.NoError(t, err)
	for _, text := range []string{
		"{version: 1, parts: [a]}",
		"{version: 1, parts: [{part: a}]}",
		"{version: 2, parts: [{part: a}]}",
		"{version: 1, parts: [{part: a, x: 1}]}",
		"{version: 1, parts: [{part: a}], defaults: {build_dir: [0, 0, 1], allowance_um: 100, json: ''}}",
		"{version: 1, parts: [{part: a, build_dir: [a, 0, 1]}]}",
		"{version: 1, parts: [{part: a, build_dir: -y, allowance_um: {upskin: 5}, weld_tol_mm: 0.1, chord_um: 2, remesh: true, ascii: true, thumbnail: false, keep: [b], except: [c]}]}",
		"{version: 1, parts: [{part: a, allowance_um: [1]}]}",
		"{version: 1, parts: [{part: a, ascii: maybe}]}",
		"{version: 1, parts: [{part: a, keep: b}]}",
		"{version: 1, parts: b}",
		"{version: 1}",
	} {
		var v any
		require.NoError(t, yaml.Unmarshal([]byte(text), &v))
		b, err := json.Marshal(v)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(b, &v))
		schema := resolved.Validate(v)
		_, reader := ParseJobs("jobs", []byte(text))
		require.Equal(t, reader == nil, schema == nil, "%s: the reader says %v, the schema %v", text, reader, schema)
	}
}
