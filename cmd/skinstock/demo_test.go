package main

import (
	"bufio"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
)

// TestDemo writes the demo, and does not write it again over what is there.
func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "first hour")
	code, _, stderr := runHere(t, "demo", dir)
	require.Equal(t, exitDone, code, stderr)

	got, err := os.ReadFile(filepath.Join(dir, "lander-bracket.stl"))
	require.NoError(t, err)
	want, err := os.ReadFile(meshtest.Testdata(t, "parts", "lander-bracket.stl"))
	require.NoError(t, err)
	require.True(t, string(got) == string(want), "the demo's part is not the committed one")

	code, _, stderr = runHere(t, "demo", dir)
	require.Equal(t, exitOutput, code)
	require.Contains(t, stderr, "--force")
}

// runDemoCommands runs every command of the demo's commands.txt as it stands, in the demo's folder.
func runDemoCommands(t *testing.T) {
	t.Helper()
	f, err := os.Open("commands.txt")
	require.NoError(t, err)
	defer f.Close()
	ran := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		line, ok := strings.CutPrefix(sc.Text(), "skinstock ")
		if !ok {
			require.True(t, line == "" || strings.HasPrefix(line, "#"), "a line that is no command: %q", line)
			continue
		}
		code, _, stderr := runHere(t, strings.Fields(line)...)
		require.Contains(t, []int{exitDone, exitFinding}, code, "%s: %s", line, stderr)
		ran++
	}
	require.GreaterOrEqual(t, ran, 9)
	for _, name := range []string{"first/report.html", "both/index.html", "both/standing/lander-bracket.stl", "both/lying/lander-bracket.3mf"} {
		require.FileExists(t, filepath.FromSlash(name))
	}
}
