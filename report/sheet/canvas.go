package sheet

import (
	"image"
	"image/color"
	"image/draw"
	"math"
)

// Colours of everything that is not the part.
var (
	white    = color.RGBA{255, 255, 255, 255}
	ink      = color.RGBA{0x1B, 0x1B, 0x1B, 255}
	softInk  = color.RGBA{0x55, 0x55, 0x55, 255}
	frameInk = color.RGBA{0xD4, 0xD4, 0xD4, 255}
)

// point is a place on a canvas in pixels.
type point struct{ x, y float64 }

// canvas draws filled shapes with soft edges.
type canvas struct{ img *image.RGBA }

func newCanvas(w, h int, bg color.RGBA) canvas {
	c := canvas{image.NewRGBA(image.Rect(0, 0, w, h))}
	c.rect(c.img.Rect, bg)
	return c
}

func (c canvas) rect(r image.Rectangle, col color.RGBA) {
	draw.Draw(c.img, r, image.NewUniform(col), image.Point{}, draw.Src)
}

// border draws a line of one pixel inside a rectangle.
func (c canvas) border(r image.Rectangle, col color.RGBA) {
	c.rect(image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+1), col)
	c.rect(image.Rect(r.Min.X, r.Max.Y-1, r.Max.X, r.Max.Y), col)
	c.rect(image.Rect(r.Min.X, r.Min.Y, r.Min.X+1, r.Max.Y), col)
	c.rect(image.Rect(r.Max.X-1, r.Min.Y, r.Max.X, r.Max.Y), col)
}

// polygon fills a closed polygon.
func (c canvas) polygon(ps []point, col color.RGBA) {
	fillPaths(c.img, c.img.Rect, [][]point{ps}, col)
}

// line draws a straight line of a width.
func (c canvas) line(a, b point, width float64, col color.RGBA) {
	dx, dy := b.x-a.x, b.y-a.y
	l := math.Hypot(dx, dy)
	if l == 0 {
		return
	}
	nx, ny := -dy/l*width/2, dx/l*width/2
	c.polygon([]point{{a.x + nx, a.y + ny}, {b.x + nx, b.y + ny}, {b.x - nx, b.y - ny}, {a.x - nx, a.y - ny}}, col)
}

// disc fills a circle.
func (c canvas) disc(m point, r float64, col color.RGBA) {
	const n = 32
	ps := make([]point, n)
	for i := range ps {
		s, k := math.Sincos(2 * math.Pi * float64(i) / n)
		ps[i] = point{m.x + r*k, m.y + r*s}
	}
	c.polygon(ps, col)
}

// arrow draws an arrow with a filled head.
func (c canvas) arrow(a, b point, width, head float64, col color.RGBA) {
	dx, dy := b.x-a.x, b.y-a.y
	l := math.Hypot(dx, dy)
	if l == 0 {
		return
	}
	ux, uy := dx/l, dy/l
	head = math.Min(head, l)
	neck := point{b.x - ux*head, b.y - uy*head}
	c.line(a, point{neck.x + ux, neck.y + uy}, width, col)
	w := head * 0.42
	c.polygon([]point{b, {neck.x - uy*w, neck.y + ux*w}, {neck.x + uy*w, neck.y - ux*w}}, col)
}
