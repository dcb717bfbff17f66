package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"skinstock/region"
)

// block is a bar from one place to another on both axes, in data units.
type block struct {
	x0, x1, y0, y1 float64
	fill           color.Color
	hatch          hatch
}

// hatch tells bars apart without colour.
type hatch int

const (
	plain  hatch = iota
	rising       // lines from the lower left
	level        // level lines
	cross        // upright and level lines
)

var skinHatch = [...]hatch{
	region.Upskin: level, region.Vertical: plain, region.Downskin: rising, region.Platform: cross,
}

// blocks is a plotter of bars.
type blocks []block

// Plot draws the bars.
func (bs blocks) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	for _, b := range bs {
		if b.y1 == b.y0 || b.x1 == b.x0 {
			continue
		}
		b.draw(c, vg.Rectangle{Min: vg.Point{X: tx(b.x0), Y: ty(b.y0)}, Max: vg.Point{X: tx(b.x1), Y: ty(b.y1)}})
	}
}

// draw fills a rectangle, hatches it and draws its rim.
func (b block) draw(c draw.Canvas, r vg.Rectangle) {
	rim := []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}}
	c.FillPolygon(b.fill, rim)
	thin := draw.LineStyle{Color: ink, Width: 0.5}
	line := func(x0, y0, x1, y1 vg.Length) { c.StrokeLine2(thin, x0, y0, x1, y1) }
	const step = 6
	switch b.hatch {
	case level, cross:
		for y := r.Min.Y + step/2; y < r.Max.Y; y += step {
			line(r.Min.X, y, r.Max.X, y)
		}
		if b.hatch == cross {
			for x := r.Min.X + step/2; x < r.Max.X; x += step {
				line(x, r.Min.Y, x, r.Max.Y)
			}
		}
	case rising:
		// Lines x - y = k, cut to the rectangle.
		for k := r.Min.X - r.Max.Y + step; k < r.Max.X-r.Min.Y; k += step {
			x0, x1 := max(r.Min.X, r.Min.Y+k), min(r.Max.X, r.Max.Y+k)
			if x1 > x0 {
				line(x0, x0-k, x1, x1-k)
			}
		}
	}
	c.StrokeLines(thin, append(rim, rim[0]))
}

// DataRange returns the box around the bars.
func (bs blocks) DataRange() (xmin, xmax, ymin, ymax float64) {
	for i, b := range bs {
		if i == 0 {
			xmin, xmax, ymin, ymax = b.x0, b.x1, b.y0, b.y1
		}
		xmin, xmax = min(xmin, b.x0), max(xmax, b.x1)
		ymin, ymax = min(ymin, b.y0), max(ymax, b.y1)
	}
	return xmin, xmax, ymin, ymax
}

// Thumbnail draws the bar's sign in the legend.
func (b block) Thumbnail(c *draw.Canvas) { b.draw(*c, c.Rectangle) }
