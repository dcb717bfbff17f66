package sheet

import (
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/vector"

	"skinstock/report/render"
)

// Drawing is a line drawing that can be written as SVG and as a picture.
type Drawing struct {
	Width, Height int    // pixels
	Title         string // for the SVG's title: what the drawing shows
	items         []item
}

// item is a set of outlines or a text.
type item struct {
	paths  [][]point
	closed bool
	fill   color.RGBA // no fill when transparent
	stroke color.RGBA // no stroke when transparent
	width  float64
	dash   [2]float64 // length of dash and gap, pixels
	clip   image.Rectangle

	text string
	at   point
	px   float64
	bold bool
	// align is as in render.Style
	align float64
}

func (d *Drawing) add(i item) { d.items = append(d.items, i) }

func (d *Drawing) line(a, b point, width float64, col color.RGBA) {
	d.add(item{paths: [][]point{{a, b}}, stroke: col, width: width})
}

func (d *Drawing) box(r image.Rectangle, fill, stroke color.RGBA, width float64) {
	x0, y0, x1, y1 := float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)
	d.add(item{paths: [][]point{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}}, closed: true, fill: fill, stroke: stroke, width: width})
}

func (d *Drawing) circle(m point, r float64, fill, stroke color.RGBA, width float64) {
	d.add(item{paths: [][]point{ring(m, r)}, closed: true, fill: fill, stroke: stroke, width: width})
}

// ring returns a circle as a polygon, clockwise on the screen.
func ring(m point, r float64) []point {
	n := 24 + int(r)
	ps := make([]point, n)
	for i := range ps {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ps[i] = point{m.x + r*c, m.y + r*s}
	}
	return ps
}

func (d *Drawing) arrow(a, b point, width, head float64, col color.RGBA) {
	dx, dy := b.x-a.x, b.y-a.y
	l := math.Hypot(dx, dy)
	if l == 0 {
		return
	}
	ux, uy := dx/l, dy/l
	n := point{b.x - ux*head, b.y - uy*head}
	d.line(a, n, width, col)
	w := head * 0.4
	d.add(item{paths: [][]point{{b, {n.x - uy*w, n.y + ux*w}, {n.x + uy*w, n.y - ux*w}}}, closed: true, fill: col})
}

// write puts a text; names must be cleaned by the caller.
func (d *Drawing) write(x, y, px float64, bold bool, align float64, col color.RGBA, text string) {
	d.add(item{text: text, at: point{x, y}, px: px, bold: bold, align: align, fill: col})
}

// badge puts a letter in a disc.
func (d *Drawing) badge(m point, text string) {
	d.circle(m, 8.5, white, ink, 1)
	d.write(m.x, m.y+4.2, 12, true, 0.5, ink, text)
}

// num writes a coordinate with one decimal at most: a twentieth of a pixel.
func num(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64)
}

func hexColour(c color.RGBA) string {
	if c.A == 0 {
		return "none"
	}
	return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
}

// SVG returns the drawing as an SVG element that can stand alone or inside
// HTML. Fonts are named by family only. prefix makes the ids of clips unique
// in a page.
func (d *Drawing) SVG(prefix string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" font-family="'Go', 'Liberation Sans', Arial, sans-serif">`,
		d.Width, d.Height, d.Width, d.Height)
	fmt.Fprintf(&b, "<title>%s</title>\n", html.EscapeString(d.Title))
	for i, it := range d.items {
		if it.text != "" {
			d.svgText(&b, it)
			continue
		}
		clip := ""
		if !it.clip.Empty() {
			id := fmt.Sprintf("%s-clip%d", prefix, i)
			fmt.Fprintf(&b, `<clipPath id="%s"><rect x="%d" y="%d" width="%d" height="%d"/></clipPath>`,
				id, it.clip.Min.X, it.clip.Min.Y, it.clip.Dx(), it.clip.Dy())
			clip = fmt.Sprintf(` clip-path="url(#%s)"`, id)
		}
		fmt.Fprintf(&b, `<path fill="%s"`, hexColour(it.fill))
		if it.stroke.A != 0 {
			fmt.Fprintf(&b, ` stroke="%s" stroke-width="%s" stroke-linejoin="round"`, hexColour(it.stroke), num(it.width))
			if it.dash[0] > 0 {
				fmt.Fprintf(&b, ` stroke-dasharray="%s %s"`, num(it.dash[0]), num(it.dash[1]))
			}
		}
		b.WriteString(clip + ` d="`)
		for _, p := range it.paths {
			for k, q := range p {
				b.WriteByte("ML"[min(k, 1)])
				b.WriteString(num(q.x) + " " + num(q.y))
			}
			if it.closed {
				b.WriteByte('Z')
			}
		}
		b.WriteString("\"/>\n")
	}
	b.WriteString("</svg>\n")
	return b.String()
}

func (d *Drawing) svgText(b *strings.Builder, it item) {
	anchor := map[float64]string{0: "start", 0.5: "middle", 1: "end"}[it.align]
	weight := ""
	if it.bold {
		weight = ` font-weight="bold"`
	}
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s" fill="%s"%s>%s</text>`+"\n",
		num(it.at.x), num(it.at.y), num(it.px), anchor, hexColour(it.fill), weight, html.EscapeString(it.text))
}

// Picture returns the drawing as a picture.
func (d *Drawing) Picture() (*image.RGBA, error) {
	c := newCanvas(d.Width, d.Height, white)
	pen, err := render.NewPen(c.img)
	if err != nil {
		return nil, err
	}
	for _, it := range d.items {
		if it.text != "" {
			pen.Write(it.at.x, it.at.y, it.text, render.Style{Px: it.px, Bold: it.bold, Color: it.fill, Align: it.align})
			continue
		}
		r := c.img.Rect
		if !it.clip.Empty() {
			r = r.Intersect(it.clip)
		}
		if it.fill.A != 0 {
			fillPaths(c.img, r, it.paths, it.fill)
		}
		if it.stroke.A != 0 {
			fillPaths(c.img, r, strokes(it), it.stroke)
		}
	}
	return c.img, nil
}

// fillPaths fills closed polygons by the non-zero rule.
func fillPaths(img *image.RGBA, r image.Rectangle, paths [][]point, col color.RGBA) {
	r = r.Intersect(extentOf(paths)) // many small items draw faster so
	if r.Empty() {
		return
	}
	z := vector.NewRasterizer(r.Dx(), r.Dy())
	at := func(p point) (float32, float32) {
		return float32(p.x - float64(r.Min.X)), float32(p.y - float64(r.Min.Y))
	}
	for _, p := range paths {
		if len(p) < 3 {
			continue
		}
		z.MoveTo(at(p[0]))
		for _, q := range p[1:] {
			z.LineTo(at(q))
		}
		z.ClosePath()
	}
	z.Draw(img, r, image.NewUniform(col), image.Point{})
}

// extentOf returns the pixels that paths touch.
func extentOf(paths [][]point) image.Rectangle {
	lo, hi := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range paths {
		for _, q := range p {
			lo, hi = point{min(lo.x, q.x), min(lo.y, q.y)}, point{max(hi.x, q.x), max(hi.y, q.y)}
		}
	}
	if !(lo.x <= hi.x && lo.y <= hi.y) {
		return image.Rectangle{}
	}
	const far = 1 << 20
	at := func(v float64) int { return int(min(max(v, -far), far)) }
	return image.Rect(at(math.Floor(lo.x)), at(math.Floor(lo.y)), at(math.Ceil(hi.x))+1, at(math.Ceil(hi.y))+1)
}

// strokes returns the lines of an item as polygons that all turn the same way,
// so that they add up where they overlap.
func strokes(it item) [][]point {
	var out [][]point
	h := it.width / 2
	seg := func(a, b point) {
		dx, dy := b.x-a.x, b.y-a.y
		l := math.Hypot(dx, dy)
		if l == 0 {
			return
		}
		nx, ny := -dy/l*h, dx/l*h
		out = append(out, []point{{a.x - nx, a.y - ny}, {b.x - nx, b.y - ny}, {b.x + nx, b.y + ny}, {a.x + nx, a.y + ny}})
	}
	for _, p := range it.paths {
		if it.closed && len(p) > 1 {
			p = append(p[:len(p):len(p)], p[0])
		}
		on, left := true, it.dash[0]
		for i := 0; i+1 < len(p); i++ {
			a, b := p[i], p[i+1]
			if it.dash[0] <= 0 {
				seg(a, b)
				if it.width > 1.2 && i+2 < len(p) {
					out = append(out, ring(b, h)[:])
				}
				continue
			}
			l := math.Hypot(b.x-a.x, b.y-a.y)
			for done := 0.0; done < l; {
				step := math.Min(left, l-done)
				t0, t1 := done/l, (done+step)/l
				if on {
					seg(point{a.x + (b.x-a.x)*t0, a.y + (b.y-a.y)*t0}, point{a.x + (b.x-a.x)*t1, a.y + (b.y-a.y)*t1})
				}
				done += step
				if left -= step; left <= 1e-9 {
					on = !on
					left = it.dash[0]
					if !on {
						left = it.dash[1]
					}
				}
			}
		}
	}
	return out
}
