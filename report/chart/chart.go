package chart

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"skinstock/region"
	"skinstock/report/render"
	"skinstock/report/sheet"
)

// Chart is a drawn chart.
type Chart struct {
	Title string
	Alt   string // what the chart shows, in a sentence
	SVG   string // an svg element without prolog
	Head  []string
	Rows  [][]string // the numbers
}

// Size of a chart in points.
const (
	width  = 560 * vg.Length(1)
	height = 320 * vg.Length(1)
)

// family is the fonts of a chart: widths were computed with the first; the
// others are of the same widths or near.
const family = `'Liberation Sans',Arial,Helvetica,sans-serif`

var (
	ink  = color.RGBA{0x1B, 0x1B, 0x1B, 255}
	grid = color.RGBA{0xDD, 0xDD, 0xDD, 255}
)

// newPlot returns an empty plot in the charts' manner.
func newPlot(x, y string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = color.White
	p.X.Label.Text, p.Y.Label.Text = x, y
	f := func(size font.Length) font.Font {
		return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	}
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = f(13)
		a.Tick.Label.Font = f(12)
		a.Label.TextStyle.Color, a.Tick.Label.Color, a.Color, a.Tick.Color = ink, ink, ink, ink
		a.Label.Padding = 4
		a.Padding = 2
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = ticker{}, ticker{}
	p.Legend.TextStyle.Font = f(12)
	p.Legend.TextStyle.Color = ink
	return p
}

// ticker labels round values.
type ticker struct{}

// Ticks returns about six marks.
func (ticker) Ticks(lo, hi float64) []plot.Tick {
	values, decimals := render.Ticks(lo, hi, 6)
	var ts []plot.Tick
	for _, v := range values {
		ts = append(ts, plot.Tick{Value: v, Label: fmt.Sprintf("%.*f", decimals, v)})
	}
	return ts
}

// key is an entry of the legend.
type key struct {
	text string
	sign plot.Thumbnailer
}

// keyHeight is the height of a row of the legend in points.
const keyHeight = 20

// drawKeys writes the legend in rows at the top and returns the height used.
func drawKeys(c draw.Canvas, p *plot.Plot, keys []key) vg.Length {
	if len(keys) == 0 {
		return 0
	}
	sty := p.Legend.TextStyle
	x, y := c.Min.X+44, c.Max.Y-14
	rows := vg.Length(1)
	for _, k := range keys {
		w := 28 + sty.Width(k.text) + 16
		if x+w > c.Max.X && x > c.Min.X+44 {
			x, y, rows = c.Min.X+44, y-keyHeight, rows+1
		}
		k.sign.Thumbnail(&draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{Min: vg.Point{X: x, Y: y - 2}, Max: vg.Point{X: x + 22, Y: y + 10}}})
		c.FillText(sty, vg.Point{X: x + 28, Y: y}, k.text)
		x += w
	}
	return rows*keyHeight + 4
}

// finish writes the plot below its legend.
func (c *Chart) finish(p *plot.Plot, keys []key) error {
	canvas := vgsvg.New(width, height)
	whole := draw.New(canvas)
	used := drawKeys(whole, p, keys)
	// Room above and to the right, so that end labels are not cut.
	p.Draw(draw.Crop(whole, 4, -14, 4, -8-used))
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return fmt.Errorf("writing the chart %q: %w", c.Title, err)
	}
	s := b.String()
	if i := strings.Index(s, "<svg"); i > 0 {
		s = s[i:]
	}
	s = strings.ReplaceAll(s, "font-family:Liberation Sans", "font-family:"+family)
	// Comments of the writer and its fixed size give way to a box that scales.
	if i := strings.Index(s, ">"); i > 0 {
		s = fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img"><title>%s</title>`,
			float64(width), float64(height), float64(width), float64(height), html.EscapeString(c.Alt)) + s[i+1:]
	}
	c.SVG = s
	return nil
}

// skinColour returns the colour of a class.
func skinColour(k region.Skin) color.Color { return render.Hex(sheet.Styles[k].Colour).SRGB() }

// table writes numbers with a format.
func row(label string, format string, v ...float64) []string {
	r := []string{label}
	for _, x := range v {
		r = append(r, fmt.Sprintf(format, x))
	}
	return r
}
