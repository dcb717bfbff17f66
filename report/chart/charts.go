package chart

import (
	"fmt"
	"image/color"
	"iter"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"skinstock/region"
	"skinstock/report/render"
)

// Patch is a piece of surface, such as a facet.
type Patch struct {
	Skin     region.Skin
	AreaMM2  float64
	ThetaDeg float64 // inclination to the platform, 0 to 90
	Value    float64 // what the chart is about; NaN is left out
}

// bins are equal steps of a value with the area in each, by skin.
type bins struct {
	lo, step float64
	area     [][len(region.Skins)]float64
	total    float64
}

// spread sorts patches into about n round steps from zero or below.
func spread(ps iter.Seq[Patch], value func(Patch) float64, lo, hi float64, n int) bins {
	b := bins{step: 1}
	if hi > lo {
		b.step = render.RoundStep((hi - lo) / float64(n))
	}
	b.lo = math.Floor(lo/b.step+1e-9) * b.step
	count := max(1, int(math.Ceil((hi-b.lo)/b.step-1e-9)))
	b.area = make([][len(region.Skins)]float64, count)
	for p := range ps {
		v := value(p)
		if math.IsNaN(v) {
			continue
		}
		i := int(math.Floor((v-b.lo)/b.step + 1e-9))
		i = min(max(i, 0), count-1) // the end belongs to the last step
		b.area[i][p.Skin] += p.AreaMM2
		b.total += p.AreaMM2
	}
	return b
}

// stack returns the bars of the bins in percent of the area, and fills the table.
func (b bins) stack(c *Chart, format string) blocks {
	var bs blocks
	for i, a := range b.area {
		x0 := b.lo + float64(i)*b.step
		y := 0.0
		r := []float64{}
		for _, k := range region.Skins {
			share := 100 * a[k] / math.Max(b.total, math.SmallestNonzeroFloat64)
			if share > 0 {
				bs = append(bs, block{x0, x0 + b.step, y, y + share, skinColour(k), skinHatch[k]})
			}
			y += share
			r = append(r, share)
		}
		if y > 0 {
			c.Rows = append(c.Rows, row(fmt.Sprintf(format+" to "+format, x0, x0+b.step), "%.1f", append(r, y)...))
		}
	}
	return bs
}

// keys lists the classes that have area.
func (b bins) keys() []key {
	var ks []key
	for _, k := range region.Skins {
		sum := 0.0
		for _, a := range b.area {
			sum += a[k]
		}
		if sum > 0 {
			ks = append(ks, key{k.Letter() + " " + k.String(), block{fill: skinColour(k), hatch: skinHatch[k]}})
		}
	}
	return ks
}

var byShare = []string{"upskin, % of area", "vertical", "downskin", "platform", "together"}

// AllowanceByArea shows how much area carries which allowance, in um.
func AllowanceByArea(ps iter.Seq[Patch]) (*Chart, error) {
	top, mean, area := 0.0, 0.0, 0.0
	for p := range ps {
		if !math.IsNaN(p.Value) {
			top = math.Max(top, p.Value)
			mean += p.Value * p.AreaMM2
			area += p.AreaMM2
		}
	}
	c := &Chart{Title: "Allowance by area", Head: append([]string{"allowance, µm"}, byShare...)}
	c.Alt = fmt.Sprintf("Share of the area by allowance: mean %.1f µm, most %.1f µm", mean/math.Max(area, math.SmallestNonzeroFloat64), top)
	b := spread(ps, func(p Patch) float64 { return p.Value }, 0, math.Max(top, 1), 24)
	p := newPlot("allowance, µm", "share of the area, %")
	p.Add(horizontal(), b.stack(c, "%g"))
	p.X.Min, p.Y.Min = 0, 0
	p.Y.Max = math.Max(p.Y.Max*1.05, 1)
	return c, c.finish(p, b.keys())
}

// DeviationHistogram shows the proof: stock found less stock called for, in
// um. The steps cover all but a hundredth of the area at either end; the end
// bars hold what lies beyond.
func DeviationHistogram(ps iter.Seq[Patch]) (*Chart, error) {
	return deviations("Deviation of the stock", "shortfall", "too little stock", ps)
}

// FinishHistogram shows how far the predicted finished surface lies from
// nominal, in um, in the same way.
func FinishHistogram(ps iter.Seq[Patch]) (*Chart, error) {
	return deviations("Predicted finish off nominal", "undersize", "undersize", ps)
}

// deviations draws a histogram around zero; lacks names what lies below it, and negative says so at the axis.
func deviations(title, lacks, negative string, ps iter.Seq[Patch]) (*Chart, error) {
	c := &Chart{Title: title, Head: append([]string{"deviation, µm"}, byShare...)}
	var all []render.Weighted
	total, least, most := 0.0, math.Inf(1), math.Inf(-1)
	for p := range ps {
		if !math.IsNaN(p.Value) {
			all = append(all, render.Weighted{Value: p.Value, Weight: p.AreaMM2})
			total += p.AreaMM2
			least, most = min(least, p.Value), max(most, p.Value)
		}
	}
	c.Alt = "Share of the area by deviation: nothing was measured"
	if len(all) == 0 {
		least, most = 0, 0
	} else {
		c.Alt = fmt.Sprintf("Share of the area by deviation: from %.1f to %.1f µm; largest %s %.1f µm", least, most, lacks, math.Max(0, -least))
	}
	lo, hi := math.Min(-1, valueAt(all, 0.01*total)), math.Max(1, valueAt(all, 0.99*total))
	b := spread(ps, func(p Patch) float64 { return p.Value }, lo, hi, 30)
	p := newPlot("deviation, µm (negative: "+negative+"; end bars: and beyond)", "share of the area, %")
	p.Add(horizontal(), b.stack(c, "%.4g"))
	if end := b.lo + b.step*float64(len(b.area)); len(c.Rows) > 0 && most > end {
		c.Rows[len(c.Rows)-1][0] = fmt.Sprintf("%.4g and more", end-b.step)
	}
	if len(c.Rows) > 0 && least < b.lo {
		c.Rows[0][0] = fmt.Sprintf("%.4g and less", b.lo+b.step)
	}
	p.Y.Min = 0
	p.Y.Max = math.Max(p.Y.Max*1.05, 1)
	zero, err := plotter.NewLine(plotter.XYs{{X: 0, Y: 0}, {X: 0, Y: p.Y.Max}})
	if err != nil {
		return nil, fmt.Errorf("drawing the zero of the deviation chart: %w", err)
	}
	zero.Width, zero.Color = 1.4, ink
	p.Add(zero)
	return c, c.finish(p, b.keys())
}

// valueAt returns the value below which so much area lies.
func valueAt(all []render.Weighted, areaMM2 float64) float64 {
	run, sum, _ := render.Around(all, areaMM2)
	for _, w := range run {
		if sum += w.Weight; sum >= areaMM2 {
			return w.Value
		}
	}
	return 0
}

// Roughness is Ra of a class before and after the bath, in um.
type Roughness struct {
	Skin            region.Skin
	BeforeUM, After float64
}

// RoughnessBeforeAfter compares Ra as built and as finished for each class.
// The target is drawn as a line when it is above zero.
func RoughnessBeforeAfter(rs []Roughness, targetUM float64) (*Chart, error) {
	c := &Chart{Title: "Roughness before and after", Head: []string{"skin", "Ra as built, µm", "Ra expected after the bath, µm"}}
	p := newPlot("", "Ra, µm")
	var bs blocks
	ticks := plot.ConstantTicks{}
	after := color.RGBA{0x1B, 0x1B, 0x1B, 255}
	c.Alt = "Ra as built and expected after the bath:"
	for i, r := range rs {
		x := float64(i)
		bs = append(bs,
			block{x - 0.36, x - 0.02, 0, r.BeforeUM, skinColour(r.Skin), skinHatch[r.Skin]},
			block{x + 0.02, x + 0.36, 0, r.After, after, plain})
		ticks = append(ticks, plot.Tick{Value: x, Label: r.Skin.Letter() + " " + r.Skin.String()})
		c.Rows = append(c.Rows, row(r.Skin.String(), "%.2f", r.BeforeUM, r.After))
		c.Alt += fmt.Sprintf(" %s %.1f to %.1f µm;", r.Skin, r.BeforeUM, r.After)
	}
	c.Alt = strings.TrimSuffix(c.Alt, ";")
	p.Add(horizontal(), bs)
	p.X.Tick.Marker = ticks
	p.X.Min, p.X.Max, p.Y.Min = -0.6, float64(len(rs))-0.4, 0
	p.Y.Max *= 1.1
	keys := []key{{"as built (look of the skin)", block{fill: color.RGBA{0xBB, 0xBB, 0xBB, 255}, hatch: rising}}, {"expected after the bath", block{fill: after}}}
	if targetUM > 0 {
		l, err := plotter.NewLine(plotter.XYs{{X: p.X.Min, Y: targetUM}, {X: p.X.Max, Y: targetUM}})
		if err != nil {
			return nil, fmt.Errorf("drawing the target of the roughness chart: %w", err)
		}
		l.Width, l.Color, l.Dashes = 1.4, color.RGBA{0xCC, 0x00, 0x00, 255}, plotDashes
		p.Add(l)
		keys = append(keys, key{fmt.Sprintf("target %.2f µm", targetUM), l})
	}
	return c, c.finish(p, keys)
}

// Curve is Ra as built against the inclination, for one side.
type Curve struct {
	Name     string
	ThetaDeg []float64
	RaUM     []float64
}

// Orientation shows how the area lies against the platform, with the
// roughness that goes with each inclination.
func Orientation(ps iter.Seq[Patch], curves []Curve) (*Chart, error) {
	c := &Chart{Title: "Inclination of the surface", Head: append([]string{"inclination, °"}, byShare...)}
	b := spread(ps, func(p Patch) float64 { return p.ThetaDeg }, 0, 90, 18)
	p := newPlot("inclination to the platform, °", "share of the area, %")
	bs := b.stack(c, "%g")
	p.Add(horizontal(), bs)
	p.X.Min, p.X.Max, p.Y.Min = 0, 90, 0
	p.Y.Max = math.Max(p.Y.Max*1.15, 1)
	most := 0.0
	for _, cu := range curves {
		for _, v := range cu.RaUM {
			most = math.Max(most, v)
		}
	}
	down := 0.0
	for _, a := range b.area {
		down += a[region.Downskin]
	}
	c.Alt = fmt.Sprintf("Share of the area by inclination to the platform; downskins make up %.1f %%",
		100*down/math.Max(b.total, math.SmallestNonzeroFloat64))
	// Curves share the axis of the area by a round factor, which their names tell.
	keys := b.keys()
	p.X.Tick.Marker = plot.ConstantTicks{
		{Value: 0, Label: "0"},
		{Value: 15, Label: "15"},
		{Value: 30, Label: "30"},
		{Value: 45, Label: "45"},
		{Value: 60, Label: "60"},
		{Value: 75, Label: "75"},
		{Value: 90, Label: "90"},
	}
	factor := 1.0
	if most > 0 {
		factor = roundDown(p.Y.Max / most)
	}
	for i, cu := range curves {
		if len(cu.ThetaDeg) != len(cu.RaUM) || len(cu.RaUM) == 0 {
			return nil, fmt.Errorf("orientation chart: curve %q has %d inclinations and %d values of Ra", cu.Name, len(cu.ThetaDeg), len(cu.RaUM))
		}
		xy := make(plotter.XYs, len(cu.RaUM))
		for j := range xy {
			xy[j] = plotter.XY{X: cu.ThetaDeg[j], Y: cu.RaUM[j] * factor}
		}
		l, err := plotter.NewLine(xy)
		if err != nil {
			return nil, fmt.Errorf("drawing curve %q of the orientation chart: %w", cu.Name, err)
		}
		l.Width, l.Color = 2, ink
		if i%2 == 1 {
			l.Dashes = plotDashes
		}
		under := *l // a white rim, so that the line shows on every colour
		under.Width, under.Color, under.Dashes = 5, color.White, nil
		p.Add(&under, l)
		keys = append(keys, key{fmt.Sprintf("Ra %s, µm × %g", render.Clean(cu.Name), factor), l})
	}
	return c, c.finish(p, keys)
}

// roundDown returns the largest of 1, 2 and 5 times a power of ten up to v.
func roundDown(v float64) float64 {
	r := render.RoundStep(v)
	if r > v*(1+1e-9) {
		r = render.RoundStep(v / 2.5000001)
	}
	return r
}

func horizontal() plot.Plotter {
	g := plotter.NewGrid()
	g.Vertical.Color = nil
	g.Horizontal.Color = grid
	return g
}

var plotDashes = []vg.Length{6, 3}
