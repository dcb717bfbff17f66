package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
)

// Packages import only from lower levels of the table in DEVELOPERS.md, which
// has them all but helpers of tests and the tools beside the program.
func TestImportsGoDown(t *testing.T) {
	root := meshtest.Root(t)
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	require.NoError(t, err)
	level := map[string]int{}
	for _, row := range regexp.MustCompile(`(?m)^\| (\d+) \| ([^|]*) \|`).FindAllStringSubmatch(string(text), -1) {
		n, err := strconv.Atoi(row[1])
		require.NoError(t, err)
		for _, name := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(row[2], -1) {
			require.NotContains(t, level, name[1], "a package stands twice")
			level[name[1]] = n
		}
	}
	seen := map[string]bool{}
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || len(d.Name()) > 1 && strings.HasPrefix(d.Name(), ".")) {
			return filepath.SkipDir
		}
		rel, err := filepath.Rel(root, filepath.Dir(path))
		from := filepath.ToSlash(rel)
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") ||
			strings.HasSuffix(from, "test") || strings.HasPrefix(from, "cmd/") && !strings.HasPrefix(from, "cmd/skinstock") {
			return err
		}
		require.Contains(t, level, from, "a package is not in the table")
		seen[from] = true
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, s := range file.Imports {
			if to, ours := strings.CutPrefix(strings.Trim(s.Path.Value, `"`), "skinstock/"); ours {
				require.Contains(t, level, to, "%s imports a package that is not in the table", path)
				require.Less(t, level[to], level[from], "%s imports %s", path, to)
			}
		}
		return nil
	}))
	for name := range level {
		require.True(t, seen[name], "%s is in the table only", name)
	}
}
