package residual

import (
	"bytes"
	"errors"
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"skinstock/offset/calibrate"
)

// Format is a file format of charts.
type Format string

// Formats.
const (
	SVG Format = "svg"
	PNG Format = "png"
)

// ErrFormat is returned for a format that is not known.
var ErrFormat = errors.New("charts are written as svg or png")

// ErrNoData is returned for a result without residuals.
var ErrNoData = errors.New("there is nothing to draw")

// Size of one panel.
const (
	panelWidth  = 11 * vg.Centimeter
	panelHeight = 8 * vg.Centimeter
	pngDPI      = 150
)

var (
	blue       = color.NRGBA{0x00, 0x72, 0xb2, 0xff} // coupons
	vermillion = color.NRGBA{0xd5, 0x5e, 0x00, 0xff} // outliers, as crosses with their name
	grey       = color.NRGBA{0x77, 0x77, 0x77, 0xff}
)

// Draw draws one panel a fit: how far each coupon lies from it, in
// standard deviations, over what the fit depends on. Outliers are crosses with
// the coupon's name; dashed lines stand at two standard deviations.
func Draw(res *calibrate.Result, f Format) ([]byte, error) {
	var panels []*plot.Plot
	for _, axis := range calibrate.Axes() {
		p, err := panel(res, axis)
		if err != nil {
			return nil, err
		}
		if p != nil {
			panels = append(panels, p)
		}
	}
	if len(panels) == 0 {
		return nil, ErrNoData
	}
	cols := min(2, len(panels))
	rows := (len(panels) + cols - 1) / cols
	return render(panels, rows, cols, f)
}

// panel draws one fit, nil when the result does not have it.
func panel(res *calibrate.Result, axis calibrate.Axis) (*plot.Plot, error) {
	var good, bad plotter.XYs
	var names []string
	most := 3.0
	for _, r := range res.Residuals {
		if r.Fit != axis.Fit {
			continue
		}
		at := plotter.XY{X: r.X, Y: r.Sigmas}
		most = math.Max(most, math.Abs(r.Sigmas))
		if r.Outlier {
			bad, names = append(bad, at), append(names, " "+r.ID)
		} else {
			good = append(good, at)
		}
	}
	if len(good)+len(bad) == 0 {
		return nil, nil
	}
	p := plot.New()
	style(p)
	p.Title.Text = fmt.Sprintf("%s: %d coupons, outliers: %d", axis.Fit, len(good)+len(bad), len(bad))
	p.X.Label.Text, p.Y.Label.Text = axis.XLabel, "residual, standard deviations"
	p.Y.Min, p.Y.Max = -1.1*most, 1.1*most
	for _, y := range []float64{-2, 0, 2} {
		p.Add(level(y))
	}
	return p, addPoints(p, good, bad, names)
}

func addPoints(p *plot.Plot, good, bad plotter.XYs, names []string) error {
	if len(good) > 0 {
		s, err := plotter.NewScatter(good)
		if err != nil {
			return fmt.Errorf("drawing coupons: %w", err)
		}
		s.GlyphStyle = draw.GlyphStyle{Color: blue, Radius: vg.Points(2.5), Shape: draw.CircleGlyph{}}
		p.Add(s)
	}
	if len(bad) == 0 {
		return nil
	}
	s, err := plotter.NewScatter(bad)
	if err != nil {
		return fmt.Errorf("drawing outliers: %w", err)
	}
	s.GlyphStyle = draw.GlyphStyle{Color: vermillion, Radius: vg.Points(4), Shape: draw.CrossGlyph{}}
	l, err := plotter.NewLabels(plotter.XYLabels{XYs: bad, Labels: names})
	if err != nil {
		return fmt.Errorf("naming outliers: %w", err)
	}
	for i := range l.TextStyle {
		l.TextStyle[i].Font = sans(8)
	}
	p.Add(s, l)
	return nil
}

// level is a horizontal line across the panel, dashed off zero.
func level(y float64) *plotter.Function {
	f := plotter.NewFunction(func(float64) float64 { return y })
	f.Samples = 2
	f.Color, f.Width = grey, vg.Points(0.7)
	if y != 0 {
		f.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	}
	return f
}

func sans(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(size)}
}

func style(p *plot.Plot) {
	p.BackgroundColor = color.White
	p.Title.TextStyle.Font = sans(11)
	p.Title.Padding = vg.Points(6)
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = sans(9)
		a.Tick.Label.Font = sans(8)
	}
}

// render draws panels in rows and columns.
func render(panels []*plot.Plot, rows, cols int, f Format) ([]byte, error) {
	w, h := vg.Length(cols)*panelWidth, vg.Length(rows)*panelHeight
	grid := make([][]*plot.Plot, rows)
	for i := range grid {
		grid[i] = make([]*plot.Plot, cols)
		for j := range grid[i] {
			if k := i*cols + j; k < len(panels) {
				grid[i][j] = panels[k]
			}
		}
	}
	var b bytes.Buffer
	tiles := draw.Tiles{Rows: rows, Cols: cols, PadX: vg.Points(8), PadY: vg.Points(8), PadTop: vg.Points(4), PadBottom: vg.Points(4), PadLeft: vg.Points(4), PadRight: vg.Points(12)}
	drawAll := func(c draw.Canvas) {
		canvases := plot.Align(grid, tiles, c)
		for i := range grid {
			for j, p := range grid[i] {
				if p != nil {
					p.Draw(canvases[i][j])
				}
			}
		}
	}
	switch f {
	case SVG:
		c := vgsvg.New(w, h)
		drawAll(draw.New(c))
		if _, err := c.WriteTo(&b); err != nil {
			return nil, fmt.Errorf("writing the chart: %w", err)
		}
	case PNG:
		c := vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(pngDPI))
		drawAll(draw.New(c))
		if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(&b); err != nil {
			return nil, fmt.Errorf("writing the chart: %w", err)
		}
	default:
		return nil, fmt.Errorf("%w, not %q", ErrFormat, f)
	}
	return b.Bytes(), nil
}
