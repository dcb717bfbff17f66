package render

import (
	"fmt"
	"image"
	"image/color"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// Pen writes text on a picture in the Go fonts. It serves one goroutine.
type Pen struct {
	img   *image.RGBA
	fonts [2]*opentype.Font // regular, bold
	faces map[faceKey]font.Face
}

type faceKey struct {
	px   float64
	bold bool
}

// Style is how text looks. Align 0 starts at the place given, 0.5 is centred
// on it, 1 ends there. MaxPx cuts the text to a width, 0 means no limit.
type Style struct {
	Px    float64 // size of the letters' em in pixels
	Bold  bool
	Color color.RGBA
	Align float64
	MaxPx int
}

// maxRunes bounds the text that is measured at all: no line of a picture holds more.
const maxRunes = 400

// NewPen returns a pen for a picture.
func NewPen(img *image.RGBA) (*Pen, error) {
	p := &Pen{img: img, faces: map[faceKey]font.Face{}}
	for i, data := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := opentype.Parse(data)
		if err != nil {
			return nil, fmt.Errorf("reading the built-in font: %w", err)
		}
		p.fonts[i] = f
	}
	return p, nil
}

func (p *Pen) font(bold bool) *opentype.Font {
	if bold {
		return p.fonts[1]
	}
	return p.fonts[0]
}

func (p *Pen) face(s Style) font.Face {
	k := faceKey{s.Px, s.Bold}
	if f, ok := p.faces[k]; ok {
		return f
	}
	f, err := opentype.NewFace(p.font(s.Bold), &opentype.FaceOptions{Size: s.Px, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		panic("render: built-in font: " + err.Error()) // options are ours
	}
	p.faces[k] = f
	return f
}

// Has tells whether the font has a sign for the rune.
func (p *Pen) Has(r rune, bold bool) bool {
	i, err := p.font(bold).GlyphIndex(nil, r)
	return err == nil && i != 0
}

// Clean makes a name from a file safe for one line of a picture: control and
// direction marks vanish, white space becomes one blank, bytes that are no
// UTF-8 become U+FFFD, and what is longer than any line is cut.
func Clean(s string) string {
	var b strings.Builder
	blank, n := false, 0
	for len(s) > 0 && n < maxRunes {
		r, size := utf8.DecodeRuneInString(s)
		s = s[size:]
		switch {
		case unicode.IsSpace(r):
			blank = b.Len() > 0
			continue
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Mn, r), unicode.Is(unicode.Me, r):
			continue
		}
		if blank {
			b.WriteByte(' ')
			blank = false
			n++
		}
		b.WriteRune(r)
		n++
	}
	if strings.TrimSpace(s) != "" {
		b.WriteRune('…')
	}
	return b.String()
}

// advance returns the width of a rune, also of the box that stands for an unknown one.
func (p *Pen) advance(r rune, s Style) fixed.Int26_6 {
	if p.Has(r, s.Bold) {
		a, _ := p.face(s).GlyphAdvance(r)
		return a
	}
	return fixed.Int26_6(s.Px * 0.62 * 64)
}

// Width returns the width of a text in pixels.
func (p *Pen) Width(text string, s Style) float64 {
	var w fixed.Int26_6
	for _, r := range text {
		w += p.advance(r, s)
	}
	return float64(w) / 64
}

// Cut returns the text, shortened at its end with an ellipsis when it is wider than the limit.
func (p *Pen) Cut(text string, s Style) string {
	if s.MaxPx <= 0 || p.Width(text, s) <= float64(s.MaxPx) {
		return text
	}
	left := fixed.Int26_6(s.MaxPx*64) - p.advance('…', s)
	for i, r := range text {
		if left -= p.advance(r, s); left < 0 {
			return strings.TrimRight(text[:i], " ") + "…"
		}
	}
	return text
}

// Write writes cleaned text with its base line at y, and returns its width in pixels.
func (p *Pen) Write(x, y float64, text string, s Style) float64 {
	text = p.Cut(Clean(text), s)
	w := p.Width(text, s)
	dot := fixed.Point26_6{X: fixed.Int26_6((x - s.Align*w) * 64), Y: fixed.Int26_6(y * 64)}
	d := font.Drawer{Dst: p.img, Src: image.NewUniform(s.Color), Face: p.face(s)}
	for _, r := range text {
		a := p.advance(r, s)
		if p.Has(r, s.Bold) {
			d.Dot = dot
			d.DrawString(string(r))
		} else {
			p.box(dot, a, s)
		}
		dot.X += a
	}
	return w
}

// box draws the frame that stands for a rune the font lacks.
func (p *Pen) box(dot fixed.Point26_6, adv fixed.Int26_6, s Style) {
	x0, x1 := dot.X.Round()+1, (dot.X+adv).Round()-1
	y0, y1 := dot.Y.Round()-int(s.Px*0.7), dot.Y.Round()
	for x := x0; x < x1; x++ {
		p.img.SetRGBA(x, y0, s.Color)
		p.img.SetRGBA(x, y1-1, s.Color)
	}
	for y := y0; y < y1; y++ {
		p.img.SetRGBA(x0, y, s.Color)
		p.img.SetRGBA(x1-1, y, s.Color)
	}
}
