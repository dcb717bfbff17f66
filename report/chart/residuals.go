package chart

import (
	"image/color"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	_ "gonum.org/v1/plot/vg/vgimg" // registers png
	_ "gonum.org/v1/plot/vg/vgsvg" // registers svg

	"skinstock/offset/calibrate"
)

// Form is a picture format.
type Form string

// Forms.
const (
	SVG Form = "svg"
	PNG Form = "png"
)

// Size of one panel of the residual chart.
const (
	residualWidth  = 16 * vg.Centimeter
	residualHeight = 7 * vg.Centimeter
)

// WriteResiduals draws how far each coupon lies from its fits, one panel a
// fit, in standard deviations; outliers are crosses.
func WriteResiduals(w io.Writer, form Form, res *calibrate.Result) error {
	var rows [][]*plot.Plot
	for _, axis := range calibrate.Axes() {
		p, err := residualPanel(axis, res.Residuals)
		if err != nil {
			return err
		}
		if p != nil {
			rows = append(rows, []*plot.Plot{p})
		}
	}
	width, height := residualWidth, residualHeight*vg.Length(max(len(rows), 1))
	c, err := draw.NewFormattedCanvas(width, height, string(form))
	if err != nil {
		return err
	}
	tiles := draw.Tiles{Rows: max(len(rows), 1), Cols: 1, PadY: 4 * vg.Millimeter, PadTop: 2 * vg.Millimeter, PadBottom: 2 * vg.Millimeter, PadRight: 4 * vg.Millimeter}
	if len(rows) > 0 {
		for i, cells := range plot.Align(rows, tiles, draw.New(c)) {
			rows[i][0].Draw(cells[0])
		}
	}
	_, err = c.WriteTo(w)
	return err
}

// residualPanel is the panel of one fit, nil when no coupon took part in it.
func residualPanel(axis calibrate.Axis, all []calibrate.Residual) (*plot.Plot, error) {
	var good, bad plotter.XYs
	for _, r := range all {
		if r.Fit != axis.Fit {
			continue
		}
		if xy := (plotter.XY{X: r.X, Y: r.Sigmas}); r.Outlier {
			bad = append(bad, xy)
		} else {
			good = append(good, xy)
		}
	}
	if len(good)+len(bad) == 0 {
		return nil, nil
	}
	p := plot.New()
	p.Title.Text = axis.Fit
	p.X.Label.Text = axis.XLabel
	p.Y.Label.Text = "off the fit, standard deviations"
	p.Add(plotter.NewGrid())
	for _, s := range []struct {
		xys   plotter.XYs
		shape draw.GlyphDrawer
		rgb   color.RGBA
	}{
		{good, draw.CircleGlyph{}, color.RGBA{R: 0x00, G: 0x72, B: 0xB2, A: 0xFF}},
		{bad, draw.CrossGlyph{}, color.RGBA{R: 0xD5, G: 0x5E, B: 0x00, A: 0xFF}},
	} {
		if len(s.xys) == 0 {
			continue
		}
		sc, err := plotter.NewScatter(s.xys)
		if err != nil {
			return nil, err
		}
		sc.Shape, sc.Color, sc.Radius = s.shape, s.rgb, vg.Points(3)
		p.Add(sc)
	}
	return p, nil
}
