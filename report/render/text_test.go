package render

import (
	"image"
	"image/color"
	"strings"
	"testing"
	"unicode"
)

func TestFontHasTheSignsOfTheTrade(t *testing.T) {
	p := pen(t, 10, 10)
	for _, r := range "µ²³Ø°±×·–…≤≥θ→↑" {
		for _, bold := range []bool{false, true} {
			if !p.Has(r, bold) {
				t.Errorf("no sign for %q (bold %v)", r, bold)
			}
		}
	}
}

func pen(t *testing.T, w, h int) *Pen {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	p, err := NewPen(img)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestCleanHostileNames(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"bracket.stl", "bracket.stl"},
		{"  two\t\nlines \r\n", "two lines"},
		{"a\x00\x1b[31mb\x7f", "a[31mb"},
		{"a\u202Eb\u2066c\u200Fd", "abcd"},
		{"<b>&amp;\"'</b>", "<b>&amp;\"'</b>"},
		{"\xff\xfe", "\ufffd\ufffd"},
		{"z\u0301\u0302\u0303algo", "zalgo"},
		{"", ""},
	} {
		if got := Clean(tt.in); got != tt.want {
			t.Errorf("Clean(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
	long := Clean(strings.Repeat("name ", 2000))
	if n := len([]rune(long)); n < maxRunes || n > maxRunes+2 || !strings.HasSuffix(long, "…") {
		t.Errorf("10 kB name comes out as %d runes", n)
	}
}

func FuzzClean(f *testing.F) {
	f.Add("bracket\u202E\x00 \xff")
	f.Fuzz(func(t *testing.T, s string) {
		c := Clean(s)
		if n := len([]rune(c)); n > maxRunes+2 {
			t.Errorf("%d runes", n)
		}
		for _, r := range c {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
				t.Errorf("%q keeps %q", s, r)
			}
		}
	})
}

func TestWriteStaysInItsWidth(t *testing.T) {
	black := color.RGBA{A: 255}
	for _, name := range []string{
		strings.Repeat("W", 10000), strings.Repeat("שלום ", 2000), strings.Repeat("月", 10000), "\u202Egnp.exe",
	} {
		p := pen(t, 200, 30)
		w := p.Write(5, 20, name, Style{Px: 14, Color: black, MaxPx: 120})
		if w > 120 {
			t.Errorf("text is %v px wide, limit 120", w)
		}
		ink := false
		for y := range 30 {
			for x := range 200 {
				if p.img.RGBAAt(x, y).R < 255 {
					ink = true
					if x >= 127 {
						t.Errorf("%.10q: ink at column %d", name, x)
					}
				}
			}
		}
		if !ink {
			t.Errorf("%.10q leaves no ink", name)
		}
	}
}

func TestHatchCoversItsShare(t *testing.T) {
	for _, h := range []Hatch{
		{Angle: 45, Period: 8, Width: 2},
		{Angle: 0, Period: 5, Width: 1},
		{Angle: 45, Period: 8, Width: 2, Cross: true},
		{Period: 8, Width: 4, Dots: true},
	} {
		want := h.Width / h.Period
		switch {
		case h.Cross:
			want = 1 - (1-want)*(1-want)
		case h.Dots:
			want = 3.14159265 / 4 * want * want
		}
		sum := 0.0
		for y := range 400 {
			for x := range 400 {
				sum += h.Cover(float64(x)+0.5, float64(y)+0.5)
			}
		}
		// A soft edge of a pixel rounds corners of dots and crossings: 2 % of the area.
		if got := sum / 160000; got < want-0.02 || got > want+0.02 {
			t.Errorf("%+v covers %.4f, want %.4f", h, got, want)
		}
	}
	if (Hatch{}).Cover(3, 4) != 0 {
		t.Error("the empty hatch leaves ink")
	}
}
