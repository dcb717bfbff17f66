package main

import (
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// TestEveryExampleRuns runs each example of each --help as it stands there, in
// a folder that holds the files they name.
func TestEveryExampleRuns(t *testing.T) {
	seed, demoPart := exampleFolder(t), meshtest.Testdata(t, "parts", "lander-bracket.stl")
	writes := map[string]string{"compensate": "bracket-grown.stl", "calibrate": "mine.yaml"}
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		for _, c := range cmd.Commands() {
			walk(c)
		}
		if cmd.Name() == "help" || strings.HasPrefix(cmd.CommandPath(), "skinstock completion") {
			return
		}
		ran := 0
		for line := range strings.Lines(cmd.Example) {
			line, ours := strings.CutPrefix(strings.TrimSpace(line), "skinstock ")
			if !ours {
				continue // what to do with the result
			}
			ran++
			line, _, _ = strings.Cut(line, " > ")
			t.Run(line, func(t *testing.T) {
				dir := t.TempDir()
				require.NoError(t, os.CopyFS(dir, os.DirFS(seed)))
				// What a command is about to write is not there yet.
				if name := writes[strings.Fields(line)[0]]; name != "" {
					require.NoError(t, os.Remove(filepath.Join(dir, name)))
				}
				t.Chdir(dir)
				if strings.Contains(line, "--keep") { // of a bore at its place
					part, err := os.ReadFile(demoPart)
					require.NoError(t, err)
					require.NoError(t, os.WriteFile(filepath.Join(dir, "bracket.stl"), part, 0o644))
				}
				if first, ok := strings.CutSuffix(line, " --collect"); ok {
					code, _, stderr := runHere(t, shellWords(first)...)
					require.Equal(t, exitDone, code, stderr)
				}
				code, _, stderr := runHere(t, shellWords(line)...)
				require.Contains(t, []int{exitDone, exitFinding}, code, "skinstock %s: %s", line, stderr)
			})
		}
		require.Positive(t, ran, "%s has no example", cmd.CommandPath())
	}
	_, root := newRoot(&console.Console{In: strings.NewReader(""), Out: io.Discard, Err: io.Discard})
	walk(root)
}

// shellWords splits a line as a shell does, by blanks outside quotes.
func shellWords(line string) (words []string) {
	for _, m := range regexp.MustCompile(`(?:'[^']*'|"[^"]*"|[^\s'"])+`).FindAllString(line, -1) {
		words = append(words, strings.NewReplacer("'", "", `"`, "").Replace(m))
	}
	return words
}

// exampleFolder makes the files that examples name: a plain block under the
// names of parts, the same grown, a report, coupons and a recipe.
func exampleFolder(t *testing.T) string {
	dir := t.TempDir()
	block := solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: 20, Z: 10})
	require.NoError(t, os.Mkdir(filepath.Join(dir, "lot-7"), 0o777))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "jobs.yaml"), []byte("version: 1\nparts:\n  - part: bracket.stl\n"), 0o644))
	for _, name := range []string{"bracket.stl", "manifold.stl", filepath.Join("lot-7", "arm.stl")} {
		f, err := os.Create(filepath.Join(dir, name))
		require.NoError(t, err)
		require.NoError(t, stl.WriteBinary(f, block, "block"))
		require.NoError(t, f.Close())
	}
	code, _, stderr := runHere(t, "compensate", filepath.Join(dir, "bracket.stl"), "--json", filepath.Join(dir, "report.json"))
	require.Equal(t, exitDone, code, stderr)
	coupons, err := os.ReadFile(meshtest.Testdata(t, "coupons", "pass-bench.csv"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "coupons.csv"), coupons, 0o644))
	code, recipe, stderr := runHere(t, "recipe", "show", "316l-40")
	require.Equal(t, exitDone, code, stderr)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "mine.yaml"), []byte(recipe), 0o644))
	return dir
}
