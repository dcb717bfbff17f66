package html

import (
	"encoding/base64"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"skinstock/report/html/htmltest"
)

func saved(t testing.TB, page []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(file, page, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestPageInBrowser(t *testing.T) {
	page := write(t, fixture(t))
	look(t, "report.html", page)
	file := saved(t, page)
	b := htmltest.Open(t, file, 1280, 900)
	b.Until("document.getElementById('turn-canvas').dataset.drawn > 0")

	t.Run("wipe by keyboard", func(t *testing.T) {
		b.Eval("document.getElementById('wipe-range-0').focus()")
		b.Key("ArrowRight")
		b.Key("ArrowRight")
		if got := b.Eval("document.getElementById('wipe-0').style.getPropertyValue('--cut')"); got != "52%" {
			t.Errorf("border after two keys at %v, want 52%%", got)
		}
	})
	t.Run("wipe by mouse", func(t *testing.T) {
		b.Drag("#wipe-0", 0.5, 0.9, 0.25, 0.9)
		if got := b.Eval("Math.round(parseFloat(document.getElementById('wipe-0').style.getPropertyValue('--cut')))"); got != 25.0 {
			t.Errorf("border after dragging to a quarter at %v %%", got)
		}
		if got := b.Eval("document.getElementById('wipe-range-0').value"); got != "25" {
			t.Errorf("range follows the mouse to %v", got)
		}
	})
	camera := func() string { return b.Eval("document.getElementById('turn-canvas').dataset.camera").(string) }
	settle := func() { b.Eval("0"); time.Sleep(150 * time.Millisecond) }
	t.Run("turntable by keyboard", func(t *testing.T) {
		b.Eval("document.getElementById('turn-canvas').focus()")
		before := camera()
		b.Key("ArrowRight")
		b.Key("ArrowUp")
		b.Key("+")
		b.Until(fmt.Sprintf("document.getElementById('turn-canvas').dataset.camera !== %q", before))
		b.Until("document.getElementById('turn-canvas').dataset.camera === '40 35 1.265 0.000 0.000'")
		b.Key("0")
		b.Until("document.getElementById('turn-canvas').dataset.camera === '35 30 1.100 0.000 0.000'")
	})
	t.Run("turntable by mouse", func(t *testing.T) {
		before := camera()
		pixels := b.Eval("document.getElementById('turn-canvas').toDataURL()")
		b.Drag("#turn-canvas", 0.5, 0.5, 0.6, 0.55)
		b.Until(fmt.Sprintf("document.getElementById('turn-canvas').dataset.camera !== %q", before))
		settle()
		if b.Eval("document.getElementById('turn-canvas').toDataURL()") == pixels {
			t.Error("the picture stays the same")
		}
	})
	t.Run("turntable reads a place", func(t *testing.T) {
		b.Eval("document.querySelector('[data-view=\"0,0\"]').click()")
		b.Until("document.getElementById('turn-canvas').dataset.camera === '0 0 1.100 0.000 0.000'")
		b.Eval("document.getElementById('turn-canvas').scrollIntoView({block:'center'})")
		// Some place of the part: look along the middle line.
		found := b.Eval(`(function(){var c=document.getElementById('turn-canvas'),r=c.getBoundingClientRect();
			for(var x=0.2;x<0.8;x+=0.02){c.dispatchEvent(new PointerEvent('pointermove',{clientX:r.left+r.width*x,clientY:r.top+r.height*0.6}));
			var t=document.getElementById('turn-out').textContent;if(t)return t}return ''})()`)
		if s, ok := found.(string); !ok || !strings.Contains(s, "allowance") || !strings.Contains(s, "µm") {
			t.Errorf("readout %q", found)
		}
	})
	t.Run("every picture has a text, headings are in order", func(t *testing.T) {
		if n := b.Eval("document.querySelectorAll('img:not([alt]), img[alt=\"\"]').length"); n != 0.0 {
			t.Errorf("%v pictures without alternative text", n)
		}
		if ok := b.Eval(`(function(){var l=0,ok=true;document.querySelectorAll('h1,h2,h3').forEach(function(h){var n=+h.tagName[1];if(n>l+1)ok=false;l=n});return ok})()`); ok != true {
			t.Error("headings skip a level")
		}
		if n := b.Eval(`Array.prototype.filter.call(document.querySelectorAll('[id]'),function(e){return document.querySelectorAll('#'+CSS.escape(e.id)).length>1}).length`); n != 0.0 {
			t.Errorf("%v elements share an id", n)
		}
		if n := b.Eval(`Array.prototype.filter.call(document.querySelectorAll('a[href^="#"]'),function(a){return !document.querySelector(a.getAttribute('href'))}).length`); n != 0.0 {
			t.Errorf("%v links lead nowhere", n)
		}
		if n := b.Eval("document.querySelectorAll('th:not([scope])').length"); n != 0.0 {
			t.Errorf("%v table heads without scope", n)
		}
		if over := b.Eval("document.documentElement.scrollWidth - document.documentElement.clientWidth"); over != 0.0 {
			t.Errorf("page is %v px wider than the window", over)
		}
	})
	look(t, "report.png", b.Shot())
	t.Run("dark scheme", func(t *testing.T) {
		b.Call("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": "dark"}}}, nil)
		b.Until("matchMedia('(prefers-color-scheme: dark)').matches")
		look(t, "report-dark.png", b.Shot())
		if got := b.Eval("getComputedStyle(document.body).backgroundColor"); got != "rgb(22, 24, 26)" {
			t.Errorf("background %v in the dark scheme", got)
		}
		contrast(t, b)
		b.Call("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": "light"}}}, nil)
		b.Until("!matchMedia('(prefers-color-scheme: dark)').matches")
		contrast(t, b)
	})
	t.Run("narrow screen", func(t *testing.T) {
		b.Window(390, 800)
		b.Until("innerWidth === 390")
		look(t, "report-narrow.png", b.Shot())
		if over := b.Eval("document.documentElement.scrollWidth - document.documentElement.clientWidth"); over != 0.0 {
			t.Errorf("page is %v px wider than a narrow screen", over)
		}
		b.Window(1280, 900)
	})
	t.Run("links of pins lead to findings", func(t *testing.T) {
		if n := b.Eval("document.querySelectorAll('.shot a').length"); n.(float64) < 3 {
			t.Errorf("%v pins on the pictures", n)
		}
		b.Eval("document.querySelector('.shot a').click()")
		if got := b.Eval("document.querySelector('tr:target') !== null"); got != true {
			t.Error("a pin leads to no finding")
		}
	})
	t.Run("print", func(t *testing.T) { prints(t, b) })
	if got := b.Troubles(file); len(got) > 0 {
		t.Errorf("console or network: %q", got)
	}
}

func TestHostileNamesInBrowser(t *testing.T) {
	p := fixture(t)
	evil := `"><script>document.title='taken'</script><img src=x onerror="document.title='taken'">{{.}}` + "\u202egnp\u2066\x00"
	long := strings.Repeat("<b>ab", 2000)
	p.Part, p.Recipe, p.Summary, p.Stamp = evil, long, strings.Repeat("שלום ", 2000), evil
	p.Verdict.Reasons = []string{evil, long}
	p.Findings[0].Message, p.Findings[0].At = evil, long
	p.Tables[0].Title, p.Tables[0].Rows[0].Cells[0] = evil, long
	p.Files[0].Name = evil + long
	p.Pairs[0].Before.Alt = evil
	file := saved(t, write(t, p))
	b := htmltest.Open(t, file, 1000, 800)
	if got := b.Eval("document.title"); strings.HasPrefix(got.(string), "taken") {
		t.Error("a name ran as script")
	}
	if n := b.Eval("document.scripts.length + document.querySelectorAll('b').length + document.querySelectorAll('img[src=x]').length"); n != 1.0 {
		t.Errorf("names became markup: %v elements, want the page's one script", n)
	}
	h1 := b.Eval("document.querySelector('h1').textContent").(string)
	if !strings.Contains(h1, "<script>") || strings.ContainsAny(h1, "\u202e\u2066\x00") {
		t.Errorf("heading %q: want the markup as text, without direction marks", h1)
	}
	if over := b.Eval("document.documentElement.scrollWidth - document.documentElement.clientWidth"); over != 0.0 {
		t.Errorf("page is %v px wider than the window", over)
	}
	look(t, "report-hostile.png", b.Shot())
	if got := b.Troubles(file); len(got) > 0 {
		t.Errorf("console or network: %q", got)
	}
}

// contrast checks every text of the page against WCAG 2.2 AA: 4.5 to 1, or 3
// to 1 for large text.
func contrast(t *testing.T, b *htmltest.Browser) {
	t.Helper()
	bad := b.Eval(`(function () {
		function lin(v) { v /= 255; return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4); }
		function lum(c) { return 0.2126 * lin(c[0]) + 0.7152 * lin(c[1]) + 0.0722 * lin(c[2]); }
		function rgba(s) { var m = s.match(/[\d.]+/g).map(Number); if (m.length < 4) m.push(1); return m; }
		var bad = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), n;
		while ((n = walk.nextNode())) {
			var e = n.parentElement;
			if (!n.textContent.trim() || !e.getClientRects().length || e.closest('svg, script, style, .shot, .skip')) continue;
			var s = getComputedStyle(e), fg = rgba(s.color), bg = null;
			for (var p = e; p && !bg; p = p.parentElement) { var q = rgba(getComputedStyle(p).backgroundColor); if (q[3] === 1) bg = q; }
			bg = bg || [255, 255, 255];
			var a = lum(fg), c = lum(bg), ratio = (Math.max(a, c) + 0.05) / (Math.min(a, c) + 0.05);
			var px = parseFloat(s.fontSize), large = px >= 24 || (px >= 18.66 && +s.fontWeight >= 700);
			if (ratio < (large ? 3 : 4.5)) bad.push(n.textContent.trim().slice(0, 30) + ' ' + ratio.toFixed(2));
		}
		return bad.join('; ');
	})()`)
	if bad != "" {
		t.Errorf("contrast too low: %v", bad)
	}
}

// prints checks the print on A4.
func prints(t *testing.T, b *htmltest.Browser) {
	var r struct{ Data string }
	b.Call("Page.printToPDF", map[string]any{"preferCSSPageSize": true, "printBackground": true}, &r)
	pdf, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		t.Fatal(err)
	}
	look(t, "report.pdf", pdf)
	name := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(name, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	info, err := exec.Command("pdfinfo", name).Output()
	if err != nil {
		t.Skip("pdfinfo is absent")
	}
	if !strings.Contains(string(info), "A4") {
		t.Errorf("not A4:\n%s", info)
	}
	text, err := exec.Command("pdftotext", "-layout", name, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"lander-arm.stl", "suited with changes", "bore_unreached", "Bath sheet", "assumed", "SHA-256", "Voltages above"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("print lacks %q", want)
		}
	}
	if strings.Contains(string(text), "Drag to turn") {
		t.Error("print shows the controls of the turntable")
	}
}
