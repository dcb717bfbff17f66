package sheet

import (
	"fmt"
	"image"
	"math"

	"skinstock/region"
	"skinstock/report/render"
)

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
