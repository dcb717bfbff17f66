package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
	"skinstock/report"
	"skinstock/report/html/htmltest"
)

// hostileMarkup would show itself in the page's title if it ran. File names
// cannot hold a slash, which markup can do without.
const hostileMarkup = `"><img src=x onerror="document.title='taken'"><svg onload=document.title='taken'>{{.}}`

// Names that come with files reach the page as text: the file's own name, the
// names of its solids, what a recipe says of itself.
func TestHostileNamesInTheReport(t *testing.T) {
	dir := t.TempDir()
	src, err := os.ReadFile(filepath.Join(meshtest.Root(t), "testdata", "stl", "pass-ascii-several-solids.stl"))
	require.NoError(t, err)
	solid := hostileMarkup + "</script><script>document.title='taken'</script>\u202egpj.\u2066" + strings.Repeat("<b>long ", 1300) + "שלום"
	require.Greater(t, len(solid), 10_000)
	lines := strings.Split(string(src), "\n")
	require.True(t, strings.HasPrefix(lines[0], "solid"))
	lines[0] = "solid " + solid
	part := filepath.Join(dir, hostileMarkup+"\u202elts.stl")
	require.NoError(t, os.WriteFile(part, []byte(strings.Join(lines, "\n")), 0o644))

	code, recipe, stderr := runHere(t, "recipe", "show", "ti-6al-4v-30")
	require.Equal(t, exitDone, code, stderr)
	const given = "target_ra_um: {value: 1.6, source: assumed, note: grade N7; set what your drawing says}"
	require.Contains(t, recipe, given)
	recipe = strings.Replace(recipe, given, `target_ra_um: {value: 1.6, source: measured, by: '<img src=x onerror="document.title=1"></td></table>'}`, 1)
	rec := filepath.Join(dir, "mine<b>.yaml")
	require.NoError(t, os.WriteFile(rec, []byte(recipe), 0o644))

	out := filepath.Join(dir, "out")
	code, stdout, stderr := runHere(t, "compensate", part, "-o", filepath.Join(dir, "g.stl"), "--recipe", rec, "--report", out, "--fail-on", "never")
	require.Equal(t, exitDone, code, stderr)
	require.NotContains(t, stdout, "\u202e", "direction marks reach the terminal")

	raw, err := os.ReadFile(filepath.Join(out, "report.json"))
	require.NoError(t, err)
	var doc report.Document
	require.NoError(t, json.Unmarshal(raw, &doc))
	require.Equal(t, solid, doc.Input.Solids[0].Name, "the figures keep the name as it is")

	file := filepath.Join(out, "report.html")
	b := htmltest.Open(t, file, 1200, 900)
	title := b.Eval("document.title").(string)
	require.NotEqual(t, "taken", title)
	require.Contains(t, title, "<img src=x", "the title holds the name as text")
	require.Contains(t, b.Eval("document.querySelector('h1').textContent"), hostileMarkup)
	text := b.Eval("document.body.textContent").(string)
	require.Contains(t, text, "</script><script>document.title='taken'</script>", "the solid's name is there as text")
	require.Contains(t, text, "שלום", "to its end")
	require.Contains(t, text, `measured: <img src=x onerror="document.title=1"></td></table>`)
	require.NotContains(t, text, "\u202e")
	require.EqualValues(t, 1, b.Eval("document.scripts.length"), "a name became a script")
	require.EqualValues(t, 0, b.Eval("document.querySelectorAll('b, img[src=x], svg[onload]').length"), "a name became markup")
	require.EqualValues(t, 0, b.Eval("document.documentElement.scrollWidth - document.documentElement.clientWidth"), "a name makes the page wider than the window")
	require.Empty(t, b.Troubles(file))
}
