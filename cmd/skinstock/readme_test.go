package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
)

// TestReadmeFirstCommand runs the README's first command as it stands there,
// but for the places it writes to.
func TestReadmeFirstCommand(t *testing.T) {
	root := meshtest.Root(t)
	b, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	m := regexp.MustCompile(`(?m)^    go run \./cmd/skinstock (compensate .*)$`).FindStringSubmatch(string(b))
	require.NotNil(t, m, "the README begins with the main job on the demo part")
	tmp := t.TempDir()
	args := strings.Fields(m[1])
	for i, a := range args {
		switch {
		case strings.HasPrefix(a, "testdata/"):
			args[i] = filepath.Join(root, a)
		case i > 0 && (args[i-1] == "-o" || args[i-1] == "--report"):
			args[i] = filepath.Join(tmp, a)
		}
	}
	code, out, stderr := runHere(t, append(args, "--fail-on", "never")...)
	require.Equal(t, exitDone, code, stderr)
	require.Regexp(t, `(?m)^written .*: [\d,]+ facets, closed, free of crossings`, out)
	for _, f := range []string{"lander-bracket-grown.stl", "out/sheet.png", "out/sheet-proof.png", "out/report.html", "out/report.json"} {
		st, err := os.Stat(filepath.Join(tmp, f))
		require.NoError(t, err)
		require.Positive(t, st.Size())
	}
}

// The worked example of the README, by the formulas it gives: levelling and
// clearing as in the design, numbers as in the built-in recipe.
func TestReadmeWorkedExample(t *testing.T) {
	root := meshtest.Root(t)
	code, out, stderr := runHere(t, "plan", filepath.Join(root, "testdata", "parts", "lander-bracket.stl"), "--fail-on", "never")
	require.Equal(t, exitDone, code, stderr)
	require.Regexp(t, `(?m)^ *upskin .* 12\.0 +93\.9 +128\.8 +36\.0 +164\.8 `, out)
	require.Regexp(t, `(?m)^ *vertical .* 9\.0 +81\.8 +128\.8 +27\.0 +155\.8 `, out)
	require.Regexp(t, `(?m)^ *downskin .* 28\.0 +128\.8 +128\.8 +84\.0 +192\.8 `, out)
	require.Contains(t, out, "64.4 min, set by the downskin")
}
