package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"

	"skinstock/report/render"
)

// TiltCurve is the downskin area that a part has when the build direction is
// tilted from the one planned, towards one side.
type TiltCurve struct {
	Name    string    // towards what a positive tilt goes, as in "towards x"
	Deg     []float64 // tilt, rising, with 0 among them
	AreaMM2 []float64
}

// tiltColours are of the Okabe-Ito set; the curves differ by dash as well.
var tiltColours = [...]color.Color{color.RGBA{0x00, 0x72, 0xB2, 255}, color.RGBA{0xD5, 0x5E, 0x00, 255}}

// Tilt shows the downskin area against the tilt of the build direction, so
// that a reader sees what another orientation would spare.
func Tilt(curves []TiltCurve) (*Chart, error) {
	c := &Chart{Title: "Downskin area against the tilt", Head: []string{"tilt, °"}}
	p := newPlot("tilt of the build direction from the planned one, °", "downskin area, cm²")
	p.Add(horizontal())
	p.X.Tick.Marker = plot.ConstantTicks{
		{Value: -90, Label: "−90"},
		{Value: -60, Label: "−60"},
		{Value: -30, Label: "−30"},
		{Value: 0, Label: "0, as planned"},
		{Value: 30, Label: "30"},
		{Value: 60, Label: "60"},
		{Value: 90, Label: "90"},
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -90, 90, 0, 1e-3
	var keys []key
	for i, t := range curves {
		if len(t.Deg) == 0 || len(t.Deg) != len(t.AreaMM2) || (i > 0 && !slices.Equal(t.Deg, curves[0].Deg)) {
			return nil, fmt.Errorf("tilt chart: curve %q has %d tilts and %d areas", t.Name, len(t.Deg), len(t.AreaMM2))
		}
		c.Head = append(c.Head, render.Clean(t.Name)+", cm²")
		xy := make(plotter.XYs, len(t.Deg))
		now, best := 0.0, 0
		for j := range xy {
			xy[j] = plotter.XY{X: t.Deg[j], Y: t.AreaMM2[j] / 100}
			p.Y.Max = math.Max(p.Y.Max, 1.08*xy[j].Y)
			if t.Deg[j] == 0 {
				now = xy[j].Y
			}
			if t.AreaMM2[j] < t.AreaMM2[best] {
				best = j
			}
		}
		c.addTilts(i, t)
		if i == 0 {
			c.Alt = fmt.Sprintf("Downskin area as planned %.2f cm²;", now)
		}
		c.Alt += fmt.Sprintf(" %s least %.2f cm² at %g°;", render.Clean(t.Name), xy[best].Y, t.Deg[best])
		l, err := plotter.NewLine(xy)
		if err != nil {
			return nil, fmt.Errorf("drawing curve %q of the tilt chart: %w", t.Name, err)
		}
		l.Width, l.Color = 2, tiltColours[i%len(tiltColours)]
		if i%2 == 1 {
			l.Dashes = plotDashes
		}
		p.Add(l)
		keys = append(keys, key{render.Clean(t.Name), l})
	}
	c.Alt += " islands and overhangs that supports would hold are not told apart"
	zero, err := plotter.NewLine(plotter.XYs{{X: 0, Y: 0}, {X: 0, Y: p.Y.Max}})
	if err != nil {
		return nil, fmt.Errorf("drawing the planned direction of the tilt chart: %w", err)
	}
	zero.Width, zero.Color = 1, ink
	p.Add(zero)
	return c, c.finish(p, keys)
}

// tableStep is the step of the tilts that the table lists, in degrees.
const tableStep = 15

// addTilts adds the i-th curve's column to the table.
func (c *Chart) addTilts(i int, t TiltCurve) {
	row := 0
	for j, deg := range t.Deg {
		if math.Mod(deg, tableStep) != 0 {
			continue
		}
		if i == 0 {
			c.Rows = append(c.Rows, []string{fmt.Sprintf("%g", deg)})
		}
		c.Rows[row] = append(c.Rows[row], fmt.Sprintf("%.2f", t.AreaMM2[j]/100))
		row++
	}
}
