package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
	"skinstock/offset/recipe"
	"skinstock/region/screen"
	"skinstock/report"
)

// readmeSection returns the README from a heading to the next of its rank.
func readmeSection(t *testing.T, heading string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(meshtest.Root(t), "README.md"))
	require.NoError(t, err)
	_, s, ok := strings.Cut(string(b), "\n"+heading+"\n")
	require.True(t, ok, "the README lacks %q", heading)
	// A heading of the same rank or above ends it.
	next := regexp.MustCompile(`\n#{1,` + strconv.Itoa(strings.Index(heading, " ")) + `} `)
	if at := next.FindStringIndex(s); at != nil {
		s = s[:at[0]]
	}
	return s
}

// firstColumn returns the words in backquotes of the first column of a table.
func firstColumn(section string) map[string]bool {
	words := map[string]bool{}
	for line := range strings.Lines(section) {
		if strings.HasPrefix(line, "| `") {
			for _, m := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(strings.Split(line, " | ")[0], -1) {
				words[m[1]] = true
			}
		}
	}
	return words
}

// TestReadmeListsEveryFinding reads the codes off the source: each must stand in
// the README's findings reference, and the other way round.
func TestReadmeListsEveryFinding(t *testing.T) {
	told := firstColumn(readmeSection(t, "## Findings"))
	root := meshtest.Root(t)
	used := map[string]string{
		screen.GasPocket.String(): "region/screen", screen.LiquidTrap.String(): "region/screen",
	}
	for _, dir := range []string{"mesh", "region", "offset", "report", "cmd"} {
		err := filepath.WalkDir(filepath.Join(root, dir), func(path string, d fs.DirEntry, err error) error {
			if err == nil && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
				for _, code := range codesIn(t, path) {
					used[code] = path
				}
			}
			return err
		})
		require.NoError(t, err)
	}
	require.Greater(t, len(used), 30, "the source is not read as it should be")
	for code, path := range used {
		require.True(t, told[code], "finding %s of %s is not in the README's findings reference", code, path)
	}
	for code := range told {
		require.Contains(t, used, code, "the README tells of a finding that the source does not have")
	}
}

// codesIn returns the finding codes of a source file: the field Code, constants
// whose names begin with Code, calls with a code before a severity, and calls of
// a method add with a code first.
func codesIn(t *testing.T, path string) (codes []string) {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
	require.NoError(t, err)
	add := func(e ast.Expr) {
		if l, ok := e.(*ast.BasicLit); ok && l.Kind == token.STRING {
			s, err := strconv.Unquote(l.Value)
			require.NoError(t, err)
			codes = append(codes, s)
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.KeyValueExpr:
			if k, ok := n.Key.(*ast.Ident); ok && k.Name == "Code" {
				add(n.Value)
			}
		case *ast.ValueSpec:
			for i, name := range n.Names {
				if strings.HasPrefix(name.Name, "Code") && i < len(n.Values) {
					add(n.Values[i])
				}
			}
		case *ast.CallExpr:
			if len(n.Args) < 2 {
				return true
			}
			if m, ok := n.Fun.(*ast.SelectorExpr); ok && m.Sel.Name == "add" && strings.HasSuffix(path, "lookaround.go") {
				add(n.Args[0])
			}
			if s, ok := n.Args[1].(*ast.SelectorExpr); ok {
				if p, ok := s.X.(*ast.Ident); ok && p.Name == "finding" {
					add(n.Args[0])
				}
			}
		}
		return true
	})
	return codes
}

// TestReadmeListsEveryRecipeKey holds the recipe reference to the recipe's own list.
func TestReadmeListsEveryRecipeKey(t *testing.T) {
	told := firstColumn(readmeSection(t, "### Recipe reference"))
	keys := map[string]bool{}
	for _, k := range recipe.Keys() {
		keys[k.Path] = true
		require.True(t, told[k.Path], "key %s is not in the README's recipe reference: see 'skinstock recipe keys'", k.Path)
	}
	for k := range told {
		require.True(t, keys[k], "the README tells of the recipe key %s, which there is not", k)
	}
}

// TestReadmeListsEveryJSONField holds the JSON reference to the document's fields.
func TestReadmeListsEveryJSONField(t *testing.T) {
	var block strings.Builder
	for line := range strings.Lines(readmeSection(t, "## JSON")) {
		if strings.HasPrefix(line, "    ") {
			block.WriteString(line)
		}
	}
	told := map[string]bool{"x": true, "y": true, "z": true}
	for _, w := range regexp.MustCompile(`[a-z][a-z0-9_]*`).FindAllString(block.String(), -1) {
		told[w] = true
	}
	fields := map[string]bool{"x": true, "y": true, "z": true}
	var walk func(ty reflect.Type)
	walk = func(ty reflect.Type) {
		switch ty.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array:
			walk(ty.Elem())
		case reflect.Struct:
			for i := range ty.NumField() {
				f := ty.Field(i)
				name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
				if name == "" || name == "-" || f.Type == reflect.TypeFor[*report.Planning]() {
					continue
				}
				fields[name] = true
				walk(f.Type)
			}
		}
	}
	walk(reflect.TypeFor[report.Document]())
	for f := range fields {
		require.True(t, told[f], "JSON field %s is not in the README's JSON reference", f)
	}
	for w := range told {
		require.True(t, fields[w], "the README tells of the JSON field %s, which there is not", w)
	}
}
