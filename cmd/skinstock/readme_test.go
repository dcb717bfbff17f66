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

// readmeCommands are the commands of the README in order: indented ones, and
// those within the text that have all their arguments.
func readmeCommands(text string) (commands []string) {
	shown := regexp.MustCompile("(?m)^    ((?:go run \\./cmd/skinstock|go build|go test|skinstock|cd) .*)$|`(skinstock\\s[^`]*)`")
	for _, m := range shown.FindAllStringSubmatch(text, -1) {
		inline := strings.Join(strings.Fields(m[2]), " ")
		switch {
		case m[1] != "":
			commands = append(commands, m[1])
		case strings.Count(inline, " ") >= 2 && !regexp.MustCompile(`[A-Z|\\]`).MatchString(inline):
			commands = append(commands, inline)
		}
	}
	return commands
}

// TestReadmeCommands runs the commands of the README as they stand there, from
// the top, in an empty folder with the project's testdata; in the demo's folder those
// of commands.txt come first, which must not stand in the way of the README's.
func TestReadmeCommands(t *testing.T) {
	root := meshtest.Root(t)
	b, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	quickStart := readmeSection(t, "## Quick start")
	t.Chdir(t.TempDir())
	require.NoError(t, os.Symlink(filepath.Join(root, "testdata"), "testdata"))
	commands := readmeCommands(string(b))
	require.GreaterOrEqual(t, len(commands), 10)
	require.Contains(t, commands[0], "go run ./cmd/skinstock compensate", "the README begins with the main job on the demo part")
	out := ""
	for _, c := range commands {
		words := shellWords(strings.Replace(c, "go run ./cmd/skinstock", "skinstock", 1))
		switch words[0] {
		case "cd":
			t.Chdir(words[1])
			runDemoCommands(t)
			continue
		case "go":
			// Tests and build of the whole: what is running here.
			require.Contains(t, []string{"go test ./...", "go build -o skinstock ./cmd/skinstock && PATH=$PWD:$PATH"}, c)
			continue
		}
		file := ""
		if n := len(words); n > 2 && words[n-2] == ">" {
			file, words = words[n-1], words[:n-2]
		}
		code, stdout, stderr := runHere(t, words[1:]...)
		require.Contains(t, []int{exitDone, exitFinding}, code, "%s: %s", c, stderr)
		if file != "" {
			require.NoError(t, os.WriteFile(file, []byte(stdout), 0o644))
		}
		if strings.HasPrefix(c, "skinstock compensate lander-bracket.stl --report") {
			out = stdout
		}
	}
	for _, f := range []string{"../lander-bracket-grown.stl", "../out/sheet.png", "../out/sheet-proof.png", "../out/report.html", "../out/report.json", "report/report.html"} {
		st, err := os.Stat(f)
		require.NoError(t, err)
		require.Positive(t, st.Size())
	}
	requireShownOutput(t, quickStart, out)
}

// requireShownOutput holds the output in the README to what the command prints:
// all lines but for last digits, and the verdict up to its condition.
func requireShownOutput(t *testing.T, section, out string) {
	t.Helper()
	plain := func(line string) string {
		const verdict = "finishes on size"
		if head, _, ok := strings.Cut(line, verdict); ok {
			line = head + verdict
		}
		line = regexp.MustCompile(`[\d.,]+`).ReplaceAllString(line, "0")
		return strings.Join(strings.Fields(line), " ")
	}
	got := map[string]bool{}
	for line := range strings.Lines(out) {
		got[plain(line)] = true
	}
	shown := 0
	for line := range strings.Lines(section) {
		line, ok := strings.CutPrefix(strings.TrimRight(line, "\n"), "    ")
		if !ok || strings.HasPrefix(line, "...") || regexp.MustCompile(`^(skinstock|go|cd) `).MatchString(line) {
			continue
		}
		shown++
		require.True(t, got[plain(line)], "the README shows %q, the command printed:\n%s", line, out)
	}
	require.GreaterOrEqual(t, shown, 10)
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
