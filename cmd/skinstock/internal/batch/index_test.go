package batch

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/report"
	"skinstock/report/html"
	"skinstock/report/render"
)

// indexOf writes the page over four parts: two done, one with a warning, one failed.
func indexOf(t *testing.T) string {
	t.Helper()
	f, err := Open(t.TempDir(), Whole, Fresh)
	require.NoError(t, err)
	defer f.Close()
	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 8, 6))))
	require.NoError(t, f.root.WriteFile("t.png", picture.Bytes(), 0o666))
	done := func(name string, minutes float64, level html.Level, verdict string) *Record {
		r := newRecord(Part{Name: name})
		r.Outcome = Done
		r.Figures = &Figures{Recipe: "r", TimeMin: report.Number(minutes), Verdict: verdict, Verified: true, Level: level}
		r.Files = []File{{Kind: "output", Path: "a b/ü?.stl"}, {Kind: "report", Path: "x/report.html"}, {Kind: "report", Path: "x/sheet.png"}, {Kind: "thumbnail", Path: "t.png"}}
		return r
	}
	bad := newRecord(Part{Name: "</script><b>.stl"})
	bad.Outcome, bad.ExitCode, bad.Error = Failed, 3, "</script><b>.stl: it is torn"
	var b strings.Builder
	require.NoError(t, f.writeIndex(&b, []*Record{
		done("part 10.stl", 9, "good", "finishes on size"), done("part 9.stl", 100, "warning", "with 2 warnings"), bad, done("part 1.stl", 20, "info", "if assumed"),
	}))
	return b.String()
}

func TestIndexPage(t *testing.T) {
	page := indexOf(t)
	require.Contains(t, page, "4 parts: 3 done, 0 done with findings, 1 failed")
	require.Contains(t, page, `href="./a%20b/%C3%BC%3F.stl"`)
	require.Contains(t, page, "&lt;/script&gt;&lt;b&gt;.stl")
	require.Equal(t, 1, strings.Count(page, "</script>"), "a name does not end the script")
	require.Equal(t, 3, strings.Count(page, `src="data:image/png;base64,`))
	require.NotRegexp(t, `(src|href)="(https?:|//)`, page, "the page needs no network")
	require.Equal(t, 3, strings.Count(page, ">report</a>"), "of a report the page alone is linked")
	require.NotContains(t, page, "ZgotmplZ", "nothing was taken for unsafe")
}

// The page is opened in a browser; heads are pressed and filters set as by a person.
func TestIndexSortsAndFilters(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is not installed")
	}
	const drive = `<script>
function order() { return Array.from(document.querySelectorAll("tbody tr")).filter(r => !r.hidden).map(r => r.cells[1].querySelector("bdi").textContent.replace(/[^0-9]/g, "") || "x").join(","); }
function press(name) { Array.from(document.querySelectorAll("thead button")).find(b => b.textContent.startsWith(name)).click(); }
const seen = [order()];
press("part"); seen.push(order());
press("bath time"); seen.push(order());
press("bath time"); seen.push(order());
press("verdict"); seen.push(order());
const find = document.getElementById("find");
find.value = "TORN"; find.dispatchEvent(new Event("input", {bubbles: true})); seen.push(order());
find.value = ""; find.dispatchEvent(new Event("input", {bubbles: true}));
document.querySelector("[value=failed]").click(); seen.push(order());
document.getElementById("flawed").click(); seen.push(order() + ":" + document.getElementById("shown").textContent);
const focusable = Array.from(document.querySelectorAll("button, input, a[href], [tabindex='0']")).every(e => e.tabIndex >= 0);
document.title = JSON.stringify(seen) + " sorted " + Array.from(document.querySelectorAll("th[aria-sort]")).filter(h => h.getAttribute("aria-sort") !== "none").length + " focusable " + focusable;
</script></body>`
	path := filepath.Join(t.TempDir(), "index.html")
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(indexOf(t), "</body>", drive, 1)), 0o666))
	out, err := exec.Command(chromium, "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+path).Output()
	require.NoError(t, err)
	title := regexp.MustCompile(`<title>(.*)</title>`).FindStringSubmatch(string(out))
	require.NotNil(t, title, "%s", out)
	require.Equal(t, `["10,9,x,1","x,1,9,10","x,10,1,9","9,1,10,x","10,1,9,x","x","10,1,9","9:1 of 4 parts shown"] sorted 1 focusable true`, title[1])
}

// Contrast of text is at least 4.5 to 1 in the light and in the dark colours (WCAG 2.1, 1.4.3).
func TestIndexContrast(t *testing.T) {
	blocks := regexp.MustCompile(`:root \{([^}]*)\}`).FindAllStringSubmatch(html.BaseStyle+indexStyle, -1)
	require.Len(t, blocks, 2)
	for _, block := range blocks {
		colour := map[string]render.RGB{}
		for _, m := range regexp.MustCompile(`--(\w+): #(\w{6})`).FindAllStringSubmatch(block[1], -1) {
			n, err := strconv.ParseUint(m[2], 16, 32)
			require.NoError(t, err)
			colour[m[1]] = render.Hex(uint32(n))
		}
		for _, text := range []string{"text", "soft", "link", "good", "info", "warning", "error"} {
			for _, ground := range []string{"page", "panel"} {
				require.GreaterOrEqual(t, render.Contrast(colour[text], colour[ground]), 4.5, "%s on %s", text, ground)
			}
		}
	}
}
