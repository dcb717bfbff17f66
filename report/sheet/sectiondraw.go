package sheet

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"skinstock/region"
	"skinstock/report/render"
)

// section is a cut part on its way to a drawing.
type section struct {
	stage                    *Stage
	cut                      Cut
	plane                    plane
	nominal, grown, finished []outline

	focus point // what the inset shows, mm in the plane
	facet int32 // of the nominal part there
	dir   point // outwards there, in the plane
	gap   float64
	found bool // gap was measured
}

// Colours and widths of the outlines; grown and finished are of the Okabe-Ito
// set. They differ in width and dash as well.
var (
	nominalInk  = ink
	grownInk    = color.RGBA{0x00, 0x9E, 0x73, 255}
	finishedInk = color.RGBA{0xCC, 0x79, 0xA7, 255}
	metal       = color.RGBA{0xE6, 0xE6, 0xE3, 255}
	stock       = color.RGBA{0xBF, 0xE6, 0xDA, 255}
)

// where names the plane.
func (s *section) where() string {
	n := s.plane.normal
	for i := range 3 {
		a := axisVector(i)
		if math.Abs(n.Dot(a)) > 1-1e-9 {
			return fmt.Sprintf("%c = %.3f mm", axisNames[i], s.cut.At.Dot(a))
		}
	}
	p := s.cut.At
	return fmt.Sprintf("through %.2f, %.2f, %.2f mm, normal %s", p.X, p.Y, p.Z, direction(n))
}

// pick chooses the place of the inset and measures the stock there.
func (s *section) pick() {
	best := math.Inf(1)
	want := s.plane.flat(s.cut.At)
	for _, o := range s.nominal {
		for i, f := range o.of {
			a, b := o.points[i], o.points[i+1]
			t := 0.5
			l2 := (b.x-a.x)*(b.x-a.x) + (b.y-a.y)*(b.y-a.y)
			if l2 == 0 {
				continue
			}
			score := -mean(s.stage.in.Allowance[f]) * 1e3
			if s.cut.Focus {
				t = clampTo(((want.x-a.x)*(b.x-a.x)+(want.y-a.y)*(b.y-a.y))/l2, 0, 1)
				score = math.Hypot(a.x+(b.x-a.x)*t-want.x, a.y+(b.y-a.y)*t-want.y)
			} else {
				score -= 1e-6 * math.Sqrt(l2) // of equals the longest
			}
			if score < best {
				l := math.Sqrt(l2)
				best, s.facet = score, f
				s.focus = point{a.x + (b.x-a.x)*t, a.y + (b.y-a.y)*t}
				s.dir = point{(b.y - a.y) / l, -(b.x - a.x) / l} // the metal is to the left
			}
		}
	}
	if math.IsInf(best, 1) { // only the grown part is met
		s.focus = s.grown[0].points[0]
		return
	}
	s.gap, s.found = s.ray(s.grown, 20*math.Max(s.stage.figures[Allowance].most/1000, 1e-3))
}

func clampTo(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// ray returns the distance from the focus outwards to the outlines, up to a limit.
func (s *section) ray(outs []outline, limit float64) (float64, bool) {
	best := limit
	for _, o := range outs {
		for i := range o.of {
			a, b := o.points[i], o.points[i+1]
			ex, ey := b.x-a.x, b.y-a.y
			det := s.dir.x*ey - s.dir.y*ex
			if det == 0 {
				continue
			}
			ax, ay := a.x-s.focus.x, a.y-s.focus.y
			t := (ax*ey - ay*ex) / det
			u := (ax*s.dir.y - ay*s.dir.x) / det
			if u >= 0 && u <= 1 && t > -1e-9 && t < best {
				best = math.Max(t, 0)
			}
		}
	}
	return best, best < limit
}

// Size of a section drawing and of its parts.
const (
	sectionW, sectionH = 1000, 560
	insetSide          = 340
)

// draw lays the drawing out: the whole section to the left, the inset and the
// legend to the right.
func (s *section) draw() *Drawing {
	d := &Drawing{Width: sectionW, Height: sectionH}
	d.Title = fmt.Sprintf("Section, %s: %s", render.Clean(s.cut.Title), s.where())
	if s.found {
		d.Title += fmt.Sprintf("; stock there %.0f µm", s.gap*1000)
	}
	d.box(image.Rect(0, 0, sectionW, sectionH), white, color.RGBA{}, 0)
	head := s.cut.Title
	d.write(20, 30, 18, true, 0, ink, "Section: "+render.Clean(head))
	d.write(20, 50, 13, false, 0, softInk, s.where())
	whole := frame2{rect: image.Rect(20, 64, sectionW-insetSide-50, sectionH-20)}
	s.fit(&whole)
	s.main(d, whole)
	inset := frame2{rect: image.Rect(sectionW-insetSide-20, 64, sectionW-20, 64+insetSide), mid: s.focus}
	s.inset(d, whole, inset)
	s.legend(d, sectionW-insetSide-20, 64+insetSide+24)
	return d
}

// fit centres and scales the whole section in its frame.
func (s *section) fit(f *frame2) {
	lo, hi := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, o := range append(append([]outline{}, s.nominal...), s.grown...) {
		for _, p := range o.points {
			lo = point{math.Min(lo.x, p.x), math.Min(lo.y, p.y)}
			hi = point{math.Max(hi.x, p.x), math.Max(hi.y, p.y)}
		}
	}
	f.mid = point{(lo.x + hi.x) / 2, (lo.y + hi.y) / 2}
	w, h := math.Max(hi.x-lo.x, 1e-6), math.Max(hi.y-lo.y, 1e-6)
	f.scale = math.Min(float64(f.rect.Dx()-80)/w, float64(f.rect.Dy()-110)/h)
}

// main draws the whole section with the skins along the nominal outline.
func (s *section) main(d *Drawing, f frame2) {
	d.box(f.rect, color.RGBA{}, frameInk, 1)
	d.add(item{paths: f.paths(s.grown, false), closed: true, fill: stock, stroke: grownInk, width: 1})
	d.add(item{paths: f.paths(s.nominal, false), closed: true, fill: metal})
	type run struct {
		skin   region.Skin
		points []point
		length float64
	}
	var runs []run
	for _, o := range s.nominal {
		for i, fc := range o.of {
			k := s.stage.in.Skins[fc]
			a, b := f.px(o.points[i]), f.px(o.points[i+1])
			if i == 0 || runs[len(runs)-1].skin != k {
				runs = append(runs, run{skin: k, points: []point{a}})
			}
			r := &runs[len(runs)-1]
			r.points = append(r.points, b)
			r.length += math.Hypot(b.x-a.x, b.y-a.y)
		}
	}
	var of [len(region.Skins)][][]point
	longest := [len(region.Skins)]int{-1, -1, -1, -1}
	for i, r := range runs {
		of[r.skin] = append(of[r.skin], r.points)
		if j := longest[r.skin]; j < 0 || r.length > runs[j].length {
			longest[r.skin] = i
		}
	}
	for _, k := range region.Skins {
		if len(of[k]) > 0 {
			d.add(item{paths: of[k], stroke: render.Hex(Styles[k].Colour).SRGB(), width: 3.2})
		}
	}
	d.add(item{paths: f.paths(s.nominal, false), closed: true, stroke: nominalInk, width: 0.7})
	for _, k := range region.Skins {
		if i := longest[k]; i >= 0 && runs[i].length > 24 {
			d.badge(beside(runs[i].points, runs[i].length/2, 14), k.Letter())
		}
	}
	s.scaleBar(d, f, 110)
	b := s.stage.in.BuildDir.Normalize()
	dir := point{b.Dot(s.plane.u), -b.Dot(s.plane.v)}
	foot := point{float64(f.rect.Max.X - 20), float64(f.rect.Max.Y - 14)}
	if l := math.Hypot(dir.x, dir.y); l > 0.2 {
		long := math.Max(28, 20/l) // foreshortened, but never only a head
		d.arrow(foot, point{foot.x + long*dir.x, foot.y + long*dir.y}, 2, 10, ink)
		d.write(foot.x-10, foot.y, 12, false, 1, ink, "build")
	} else {
		d.circle(point{foot.x - 2, foot.y - 6}, 6, white, ink, 1.6)
		text := "build, towards you"
		d.circle(point{foot.x - 2, foot.y - 6}, 2, ink, color.RGBA{}, 0)
		if b.Dot(s.plane.normal) < 0 {
			text = "build, away from you"
		}
		d.write(foot.x-14, foot.y, 12, false, 1, ink, text)
	}
}

// beside returns a place to the right of a run, outside the metal, at a length along it.
func beside(p []point, along, off float64) point {
	for i := 0; i+1 < len(p); i++ {
		dx, dy := p[i+1].x-p[i].x, p[i+1].y-p[i].y
		l := math.Hypot(dx, dy)
		if along <= l && l > 0 {
			t := along / l
			// On the screen y points down, so the left-hand metal stays to the left.
			return point{p[i].x + dx*t - dy/l*off, p[i].y + dy*t + dx/l*off}
		}
		along -= l
	}
	return p[len(p)-1]
}

// scaleBar draws a bar of a round length at the lower left.
func (s *section) scaleBar(d *Drawing, f frame2, most float64) {
	mm := largestRound(most / f.scale)
	x, y := float64(f.rect.Min.X+14), float64(f.rect.Max.Y-14)
	l := mm * f.scale
	// On white, so that it reads over the part.
	d.box(image.Rect(int(x)-6, int(y)-26, int(x+math.Max(l, 46))+6, int(y)+6), white, color.RGBA{}, 0)
	d.line(point{x, y}, point{x + l, y}, 2, ink)
	d.line(point{x, y - 5}, point{x, y + 1}, 2, ink)
	d.line(point{x + l, y - 5}, point{x + l, y + 1}, 2, ink)
	d.write(x, y-9, 12, false, 0, ink, length(mm))
}
