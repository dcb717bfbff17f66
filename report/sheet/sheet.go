package sheet

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"skinstock/region"
	"skinstock/report/render"
)

// Options tells how large a sheet is.
type Options struct {
	Width, Height int // pixels; 0 means 1600 and 1200

	// Tight makes the sheet only as high as its pictures need, and lists the pins
	// below them.
	Tight bool

	// Layers are the one or two things shown in every view; nil means Skins
	// and Allowance.
	Layers []Layer
	// Views are the views shown; nil means all.
	Views []View
}

// defaults fills in what is not given, and checks the rest.
func (o Options) defaults(s *Stage) (Options, error) {
	if o.Width == 0 && o.Height == 0 {
		o.Width, o.Height = 1600, 1200
	}
	if o.Width < minWidth || o.Height < minHeight {
		return o, fmt.Errorf("%w: a sheet of %d x %d pixels is too small for its lettering: at least %d x %d",
			ErrInput, o.Width, o.Height, minWidth, minHeight)
	}
	if o.Layers == nil {
		o.Layers = []Layer{Skins, Allowance}
	}
	if o.Views == nil {
		o.Views = Views[:]
	}
	if len(o.Layers) == 0 || len(o.Layers) > 2 || len(o.Views) == 0 || len(o.Views) > len(Views) {
		return o, fmt.Errorf("%w: a sheet shows one or two layers in one to %d views", ErrInput, len(Views))
	}
	for _, l := range o.Layers {
		if l < 0 || l >= numLayers || !s.Has(l) {
			return o, fmt.Errorf("%w: there is nothing to show as layer %d", ErrInput, l)
		}
	}
	for _, v := range o.Views {
		if v < 0 || int(v) >= len(Views) {
			return o, fmt.Errorf("%w: there is no view %d", ErrInput, v)
		}
	}
	return o, nil
}

// Sizes a sheet must have for its lettering to fit.
const (
	minWidth, minHeight = 1200, 800
	headHeight          = 84
	footHeight          = 168
	margin              = 20
)

// Sheet draws all views of the nominal and the grown part on one picture.
func (s *Stage) Sheet(ctx context.Context, opt Options) (*image.RGBA, error) {
	opt, err := opt.defaults(s)
	if err != nil {
		return nil, err
	}
	var sizes []point
	for _, v := range opt.Views {
		e := s.extent[v].Size()
		sizes = append(sizes, point{e.X, e.Y})
	}
	foot := footHeight
	if opt.Tight {
		foot = max(foot, s.keyHeight())
	}
	area := image.Rect(margin, headHeight, opt.Width-margin, opt.Height-foot)
	p := arrange(area, sizes, len(opt.Layers))
	if opt.Tight && p.needs < area.Dy() {
		opt.Height -= area.Dy() - p.needs
		area.Max.Y = opt.Height - foot
		p = arrange(area, sizes, len(opt.Layers))
	}
	c := newCanvas(opt.Width, opt.Height, white)
	pen, err := render.NewPen(c.img)
	if err != nil {
		return nil, err
	}
	d := &drawer{stage: s}
	for v := range opt.Views { // the layers of a view one after the other
		for r, row := range p.cells {
			for k, q := range row {
				if q.view != v {
					continue
				}
				if _, err := d.cell(ctx, c, pen, p.rects[r][k], opt.Views[v], opt.Layers[q.layer], p.pxPerMM, 0); err != nil {
					return nil, err
				}
			}
		}
	}
	s.head(c, pen)
	s.foot(c, pen, opt.Layers, foot)
	if opt.Tight {
		s.key(c, pen, image.Rect(keyLeft, opt.Height-foot+12, opt.Width-margin, opt.Height-margin))
	}
	return c.img, nil
}

// cell draws one picture with its caption and marks, and returns its pins. The
// caption stands at the left, or at the right with an align of 1.
func (d *drawer) cell(ctx context.Context, c canvas, pen *render.Pen, r image.Rectangle, v View, l Layer, scale, align float64) ([]pinPlace, error) {
	inner := image.Rect(r.Min.X+1, r.Min.Y+cellTop-8, r.Max.X-1, r.Max.Y-cellBottom+8)
	s := d.stage
	frame, err := d.picture(ctx, v, l, inner.Dx(), inner.Dy(), scale)
	if err != nil {
		return nil, err
	}
	draw.Draw(c.img, inner, frame.Image, image.Point{}, draw.Src)
	c.border(r, frameInk)
	x := float64(r.Min.X+10) + align*float64(r.Dx()-20)
	pen.Write(x, float64(r.Min.Y+20), v.String(), render.Style{Px: 14, Bold: true, Color: ink, MaxPx: r.Dx() - 20, Align: align})
	pen.Write(x, float64(r.Min.Y+37), l.Title(), render.Style{Px: 13, Color: softInk, MaxPx: r.Dx() - 20, Align: align})
	scaleBar(c, pen, r, frame.View.PxPerMM)
	buildArrow(c, pen, r, frame.View, s.in.BuildDir)
	if l == Skins && !s.in.PinSkins {
		letters(c, pen, figure{inner, frame}, s.in.Skins)
		return nil, nil
	}
	places := placePins(s.in.Pins, frame, inner)
	drawPins(c, pen, places)
	return places, nil
}

// head writes what the sheet is about.
func (s *Stage) head(c canvas, pen *render.Pen) {
	w := c.img.Rect.Dx()
	side := 300
	pen.Write(margin, 38, s.in.Part, render.Style{Px: 26, Bold: true, Color: ink, MaxPx: w - 2*margin - side - 20})
	lo, hi := s.in.Nominal.Bounds()
	d := hi.Sub(lo)
	line := fmt.Sprintf("%.3f × %.3f × %.3f mm nominal  ·  %s facets  ·  build direction %s  ·  recipe: ",
		d.X, d.Y, d.Z, grouped(len(s.in.Nominal.Facets)), direction(s.in.BuildDir))
	st := render.Style{Px: 15, Color: softInk, MaxPx: w - 2*margin - side - 20}
	x := pen.Write(margin, 66, line, st)
	st.MaxPx -= int(x)
	// Clean drops the blank at the end of the line.
	pen.Write(margin+x+5, 66, s.in.Recipe, st)
	pen.Write(float64(w-margin), 30, s.in.Version, render.Style{Px: 14, Color: softInk, Align: 1, MaxPx: side})
	if s.in.Assumed {
		text := "assumed values: see the recipe"
		b := render.Style{Px: 14, Bold: true, Color: ink, Align: 1}
		tw := int(math.Ceil(pen.Width(text, b)))
		box := image.Rect(w-margin-tw-20, 42, w-margin, 70)
		c.border(box, ink)
		c.border(box.Inset(1), ink)
		pen.Write(float64(w-margin-10), 61, text, b)
	}
}

// foot draws the legends, that of the first layer to the left.
func (s *Stage) foot(c canvas, pen *render.Pen, ls []Layer, high int) {
	w, h := c.img.Rect.Dx(), c.img.Rect.Dy()
	top := h - high + 12
	half := margin + (w-2*margin)/2
	boxes := [...]image.Rectangle{
		image.Rect(margin, top, half-20, h-margin), image.Rect(half+20, top, w-margin, h-margin),
	}
	for i, l := range ls {
		if l == Skins {
			s.skinLegend(c, pen, boxes[i])
		} else {
			s.mapLegend(c, pen, boxes[i], l)
		}
	}
	y := float64(h - margin - 20*min(len(s.in.Notes), 2) + 14)
	for i := range min(len(s.in.Notes), 2) {
		pen.Write(float64(boxes[1].Min.X), y+20*float64(i), s.in.Notes[i],
			render.Style{Px: 13, Color: softInk, MaxPx: boxes[1].Dx()})
	}
}

// skinLegend is a table of the classes.
func (s *Stage) skinLegend(c canvas, pen *render.Pen, r image.Rectangle) {
	x, y := float64(r.Min.X), float64(r.Min.Y)
	title := render.Style{Px: 15, Bold: true, Color: ink}
	note := render.Style{Px: 13, Color: softInk, Align: 1}
	pen.Write(x, y+12, layers[Skins].legend, title)
	w := math.Min(float64(r.Dx()), 600)
	if s.in.Keep != nil {
		w = math.Min(w, float64(r.Dx()-keepLegend-24))
		s.keepLegend(c, pen, image.Rect(int(x+w)+24, r.Min.Y, int(x+w)+24+keepLegend, r.Max.Y))
	}
	cols := [...]float64{x + 0.55*w, x + 0.7*w, x + w}
	for i, t := range [...]string{"area", "share", "mean allowance"} {
		pen.Write(cols[i], y+12, t, note)
	}
	total := 0.0
	for _, a := range s.areas {
		total += a.areaMM2
	}
	text := render.Style{Px: 15, Color: ink}
	num := render.Style{Px: 15, Color: ink, Align: 1}
	for i, k := range region.Skins {
		f := s.areas[k]
		ty := y + 38 + float64(i)*26
		swatch(c, image.Rect(r.Min.X, int(ty)-15, r.Min.X+64, int(ty)+5), k)
		badge(c, pen, point{x + 32, ty - 5}, k.Letter(), false)
		pen.Write(x+78, ty, skinLabels[k], text)
		pen.Write(cols[0], ty, area(f.areaMM2), num)
		pen.Write(cols[1], ty, fmt.Sprintf("%.1f %%", 100*f.areaMM2/total), num)
		if f.areaMM2 == 0 {
			pen.Write(cols[2], ty, "–", num)
		} else if v := f.mean[Allowance]; !math.IsNaN(v) {
			pen.Write(cols[2], ty, fmt.Sprintf("%.1f µm", v), num)
		}
	}
}

// keepLegend is the width of the legend of keep zones, pixels.
const keepLegend = 150

// keepLegend tells how keep zones look and how large they are.
func (s *Stage) keepLegend(c canvas, pen *render.Pen, r image.Rectangle) {
	x, y := float64(r.Min.X), r.Min.Y
	pen.Write(x, float64(y)+12, "Kept", render.Style{Px: 15, Bold: true, Color: ink})
	for k := Masked; k < numKeeps; k++ {
		if s.kept[k] == 0 {
			continue
		}
		box := image.Rect(r.Min.X, y+24, r.Min.X+64, y+44)
		hatch(c, box, keepHatches[k])
		pen.Write(x, float64(y)+59, keepLabels[k]+", "+area(s.kept[k]), render.Style{Px: 13, Color: ink, MaxPx: r.Dx()})
		y += 48
	}
}

// hatch fills a rectangle with a hatch on grey.
func hatch(c canvas, r image.Rectangle, h render.Hatch) {
	l := look{render.Hex(Styles[region.Vertical].Colour), render.RGB{}, h}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			c.img.SetRGBA(x, y, l.at(float64(x)+0.5, float64(y)+0.5).SRGB())
		}
	}
	c.border(r, ink)
}

var skinLabels = [...]string{
	region.Upskin: "upskin", region.Vertical: "vertical", region.Downskin: "downskin", region.Platform: "platform contact",
}

// swatch fills a rectangle with a class's look.
func swatch(c canvas, r image.Rectangle, k region.Skin) {
	l := Styles[k].look()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			c.img.SetRGBA(x, y, l.at(float64(x)+0.5, float64(y)+0.5).SRGB())
		}
	}
	c.border(r, ink)
}

// mapLegend is the scale of a heat map with its figures.
func (s *Stage) mapLegend(c canvas, pen *render.Pen, r image.Rectangle, l Layer) {
	pen.Write(float64(r.Min.X), float64(r.Min.Y)+12, layers[l].legend, render.Style{Px: 15, Bold: true, Color: ink})
	inset := 10 // room for half a number
	if l.centred() {
		inset = 74 // room for the marks of what is out of range
	}
	f := s.figures[l]
	bar := image.Rect(r.Min.X+inset, r.Min.Y+28, r.Max.X-20-inset, r.Min.Y+52)
	scaleLegend(c, pen, bar, s.scales[l])
	s.spanMark(c, bar, l)
	st := render.Style{Px: 14, Color: ink, MaxPx: r.Dx()}
	x, y := float64(r.Min.X), float64(r.Min.Y)+94
	if l.centred() {
		mark := render.Style{Px: 13, Color: ink, Align: 0.5}
		for _, e := range [...]struct {
			x   int
			col render.RGB
			txt string
		}{{r.Min.X, s.scales[l].Under, "beyond"}, {bar.Max.X + 26, s.scales[l].Over, "beyond"}} {
			box := image.Rect(e.x, bar.Min.Y, e.x+48, bar.Max.Y)
			c.rect(box, e.col.SRGB())
			c.border(box, ink)
			pen.Write(float64(e.x+24), float64(bar.Max.Y+21), e.txt, mark)
		}
		means := "negative: too little stock, would finish undersize; positive: material left"
		if l == Finish {
			means = "negative: undersize after the bath; positive: metal left on"
		}
		pen.Write(x, y, means, st)
		pen.Write(x, y+19, fmt.Sprintf("on the part (thick line) from %+.1f to %+.1f µm", f.least, f.most), st)
		pen.Write(x, y+38, s.classLine(l), st)
		return
	}
	d, u := layers[l].digits, layers[l].unit
	pen.Write(x, y, fmt.Sprintf("on the part (thick line): least %.*f%s, mean over the area %.*f%s, most %.*f%s",
		d, f.least, u, d, f.mean, u, d, f.most, u), st)
	pen.Write(x, y+19, s.classLine(l), st)
}

// spanMark draws a thick line above a scale where values lie on the part.
func (s *Stage) spanMark(c canvas, bar image.Rectangle, l Layer) {
	sc, f := s.scales[l], s.figures[l]
	at := func(v float64) float64 {
		return float64(bar.Min.X) + float64(bar.Dx())*clampTo((v-sc.Lo)/(sc.Hi-sc.Lo), 0, 1)
	}
	y := float64(bar.Min.Y) - 4
	x0, x1 := at(f.least), at(f.most)
	c.line(point{x0 - 1, y}, point{math.Max(x1, x0) + 1, y}, 3, ink)
}

// classLine tells the area and the mean of a map's value for each class that
// the part has.
func (s *Stage) classLine(l Layer) string {
	text := ""
	for _, k := range region.Skins {
		f := s.areas[k]
		if f.areaMM2 == 0 {
			continue
		}
		if text != "" {
			text += "  ·  "
		}
		text += k.Letter() + " " + area(f.areaMM2)
		if v := f.mean[l]; !math.IsNaN(v) {
			text += fmt.Sprintf(": mean %.3g%s", v, layers[l].unit)
		}
	}
	return text
}

// scaleLegend draws a scale as a horizontal bar with ticks below.
func scaleLegend(c canvas, pen *render.Pen, bar image.Rectangle, sc *render.Scale) {
	n := bar.Dx()
	for i := range n {
		v := sc.Lo + (sc.Hi-sc.Lo)*(float64(i)+0.5)/float64(n)
		c.rect(image.Rect(bar.Min.X+i, bar.Min.Y, bar.Min.X+i+1, bar.Max.Y), sc.At(v).SRGB())
	}
	c.border(bar, ink)
	ticks, dec := render.Ticks(sc.Lo, sc.Hi, 8)
	for _, t := range ticks {
		x := float64(bar.Min.X) + float64(n)*(t-sc.Lo)/(sc.Hi-sc.Lo)
		c.line(point{x, float64(bar.Max.Y)}, point{x, float64(bar.Max.Y + 6)}, 1.4, ink)
		pen.Write(x, float64(bar.Max.Y+21), fmt.Sprintf("%.*f", dec, t), render.Style{Px: 14, Color: ink, Align: 0.5})
	}
}

// WritePNG writes a picture as PNG.
func WritePNG(w io.Writer, img image.Image) error {
	e := png.Encoder{CompressionLevel: png.DefaultCompression}
	return e.Encode(w, img)
}
