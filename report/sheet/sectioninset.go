package sheet

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"

	"skinstock/region"
	"skinstock/report/render"
)

// inset magnifies the focus until the stock is a sixth of the picture wide.
// Where stock is missing, half the most that there is counts, so that what is
// short is seen beside what is not.
func (s *section) inset(d *Drawing, whole, f frame2) {
	most := math.Max(s.stage.figures[Allowance].most/1000, 0.05)
	stockMM := most
	if s.found {
		stockMM = math.Max(s.gap, most/2)
	}
	f.scale = insetSide / 6 / stockMM
	half := float64(insetSide) / 2 / f.scale
	r := f.rect
	d.box(r, white, color.RGBA{}, 0)
	d.add(item{paths: f.paths(s.grown, true), closed: true, fill: stock, clip: r})
	d.add(item{paths: f.paths(s.nominal, true), closed: true, fill: metal, clip: r})
	d.add(item{paths: f.paths(s.grown, true), closed: true, stroke: grownInk, width: 3, clip: r})
	d.add(item{paths: f.paths(s.nominal, true), closed: true, stroke: nominalInk, width: 1.5, clip: r})
	if s.finished != nil {
		d.add(item{paths: f.paths(s.finished, true), closed: true, stroke: finishedInk, width: 2.2, dash: [2]float64{9, 5}, clip: r})
	}
	s.dimension(d, f)
	d.box(r, color.RGBA{}, ink, 1.4)
	s.scaleBar(d, f, 100)
	d.write(float64(r.Max.X), float64(r.Min.Y-8), 13, false, 1, softInk,
		fmt.Sprintf("magnified %s times against the section", strconv.FormatFloat(roundTo(f.scale/whole.scale, 2), 'f', -1, 64)))
	// Where the inset lies.
	c := whole.px(s.focus)
	mark := math.Max(half*whole.scale, 7)
	d.circle(c, mark, color.RGBA{}, ink, 1.6)
	to := point{float64(r.Min.X), float64(r.Min.Y+r.Max.Y) / 2}
	l := math.Hypot(to.x-c.x, to.y-c.y)
	d.line(point{c.x + (to.x-c.x)*mark/l, c.y + (to.y-c.y)*mark/l}, to, 1, ink)
}

// roundTo rounds to a number of significant digits.
func roundTo(v float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// dimension draws the stock between nominal and grown at the focus: two
// arrows from outside the gap, and its size.
func (s *section) dimension(d *Drawing, f frame2) {
	if !s.found {
		return
	}
	a := f.px(s.focus)
	dir := point{s.dir.x, -s.dir.y}
	g := s.gap * f.scale
	b := point{a.x + dir.x*g, a.y + dir.y*g}
	d.arrow(point{a.x - dir.x*44, a.y - dir.y*44}, a, 1.6, 10, ink)
	d.arrow(point{b.x + dir.x*44, b.y + dir.y*44}, b, 1.6, 10, ink)
	text := fmt.Sprintf("%.0f µm", s.gap*1000)
	w := 9.2*float64(len([]rune(text))) + 10
	// Beside the outer arrow's tail.
	t := point{b.x + dir.x*44 - dir.y*(w/2+8), b.y + dir.y*44 + dir.x*20}
	t.x = clampTo(t.x, float64(f.rect.Min.X)+w/2+4, float64(f.rect.Max.X)-w/2-4)
	t.y = clampTo(t.y, float64(f.rect.Min.Y)+18, float64(f.rect.Max.Y)-40)
	d.box(image.Rect(int(t.x-w/2), int(t.y-13), int(t.x+w/2), int(t.y+11)), white, ink, 1)
	d.write(t.x, t.y+5, 16, true, 0.5, ink, text)
}

// legend explains the lines.
func (s *section) legend(d *Drawing, x, y int) {
	fx, fy := float64(x), float64(y)
	rows := []struct {
		text  string
		col   color.RGBA
		width float64
		dash  [2]float64
	}{
		{"nominal", nominalInk, 1.5, [2]float64{}},
		{"grown, to be printed", grownInk, 3, [2]float64{}},
	}
	if s.finished != nil {
		text := "predicted finish"
		if by := s.stage.in.FinishedBy; by != "" {
			text = "finish, " + by
		}
		rows = append(rows, struct {
			text  string
			col   color.RGBA
			width float64
			dash  [2]float64
		}{text, finishedInk, 2.2, [2]float64{9, 5}})
	}
	for i, r := range rows {
		yy := fy + 22*float64(i)
		d.add(item{paths: [][]point{{{fx, yy - 5}, {fx + 44, yy - 5}}}, stroke: r.col, width: r.width, dash: r.dash})
		d.write(fx+56, yy, 14, false, 0, ink, r.text)
	}
	for i, k := range region.Skins {
		yy := fy + 22*float64(i)
		d.line(point{fx + 220, yy - 5}, point{fx + 244, yy - 5}, 4, render.Hex(Styles[k].Colour).SRGB())
		d.write(fx+250, yy, 13, false, 0, ink, k.Letter()+" "+shortLabels[k])
	}
}

var shortLabels = [...]string{
	region.Upskin: "upskin", region.Vertical: "vertical", region.Downskin: "downskin", region.Platform: "platform",
}
