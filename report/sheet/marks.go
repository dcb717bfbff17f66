package sheet

import (
	"fmt"
	"image"
	"math"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"skinstock/region"
	"skinstock/report/render"
)

// scaleBar draws a bar of a round length at the lower left of a cell.
func scaleBar(c canvas, pen *render.Pen, r image.Rectangle, pxPerMM float64) {
	most := math.Min(110, float64(r.Dx())*0.4)
	mm := render.RoundStep(most / pxPerMM)
	if mm*pxPerMM > most {
		mm = largestRound(most / pxPerMM)
	}
	l := mm * pxPerMM
	x, y := float64(r.Min.X+12), float64(r.Max.Y-12)
	c.line(point{x, y}, point{x + l, y}, 2, ink)
	for _, e := range [...]float64{x, x + l} {
		c.line(point{e, y - 5}, point{e, y + 1}, 2, ink)
	}
	pen.Write(x, y-8, length(mm), render.Style{Px: 12, Color: ink})
}

// largestRound returns the largest of 1, 2 and 5 times a power of ten up to v.
func largestRound(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range [...]float64{5, 2} {
		if k*p <= v*(1+1e-9) {
			return k * p
		}
	}
	return p
}

// length writes a length in the unit that suits it.
func length(mm float64) string {
	if mm < 0.1 {
		return strconv.FormatFloat(mm*1000, 'g', 3, 64) + " µm"
	}
	return strconv.FormatFloat(mm, 'f', -1, 64) + " mm"
}

// buildArrow draws the build direction at the lower right of a cell.
func buildArrow(c canvas, pen *render.Pen, r image.Rectangle, v render.View, build r3.Vector) {
	b := build.Normalize()
	dx, dy := b.Dot(v.Right), -b.Dot(v.Up)
	const long = 30
	foot := point{float64(r.Max.X - 16), float64(r.Max.Y - 8)}
	tip := point{foot.x + dx*long, foot.y + dy*long}
	c.arrow(foot, tip, 2, 10, ink)
	pen.Write(foot.x-10, foot.y-1, "build", render.Style{Px: 12, Color: ink, Align: 1})
}

// letters puts each class's letter where its visible area is widest.
func letters(c canvas, pen *render.Pen, fig figure, skins []region.Skin) {
	const least = 10 // a letter's disc must fit inside the area
	w, h := fig.rect.Dx(), fig.rect.Dy()
	class := make([]int8, w*h)
	for y := range h {
		for x := range w {
			class[y*w+x] = -1
			if f := fig.frame.Facet(x, y); f >= 0 {
				class[y*w+x] = int8(skins[f])
			}
		}
	}
	for _, k := range region.Skins {
		x, y, room := widest(class, w, h, int8(k))
		if room < least {
			continue
		}
		m := point{float64(fig.rect.Min.X+x) + 0.5, float64(fig.rect.Min.Y+y) + 0.5}
		badge(c, pen, m, k.Letter(), false)
	}
}

// widest returns the pixel of a class that is farthest from any other, and
// that distance in pixels, by the 3-4 chamfer metric.
func widest(class []int8, w, h int, k int8) (bx, by int, room float64) {
	const far = 1 << 20
	d := make([]int32, w*h)
	at := func(x, y int) int32 {
		if x < 0 || y < 0 || x >= w || y >= h {
			return 0
		}
		return d[y*w+x]
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			if class[i] == k {
				d[i] = min(far, at(x-1, y)+3, at(x, y-1)+3, at(x-1, y-1)+4, at(x+1, y-1)+4)
			}
		}
	}
	best := int32(0)
	var sx, sy, n int
	for y := h - 1; y >= 0; y-- {
		for x := w - 1; x >= 0; x-- {
			i := y*w + x
			d[i] = min(d[i], at(x+1, y)+3, at(x, y+1)+3, at(x+1, y+1)+4, at(x-1, y+1)+4)
			best = max(best, d[i])
			if d[i] > 0 {
				sx, sy, n = sx+x, sy+y, n+1
			}
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	// Of the places with nearly the most room, the one nearest to the class's middle.
	near := math.Inf(1)
	mx, my := float64(sx)/float64(n), float64(sy)/float64(n)
	for y := range h {
		for x := range w {
			if 10*d[y*w+x] < 9*best {
				continue
			}
			if q := math.Hypot(float64(x)-mx, float64(y)-my); q < near {
				near, bx, by = q, x, y
			}
		}
	}
	return bx, by, float64(d[by*w+bx]) / 3
}

// badge draws a letter or number in a disc, black on white, or white on black.
func badge(c canvas, pen *render.Pen, m point, text string, dark bool) {
	bg, fg := white, ink
	if dark {
		bg, fg = ink, white
	}
	c.disc(m, 9, ink)
	c.disc(m, 8, bg)
	px := 12.0
	if len(text) > 2 {
		px = 9
	}
	pen.Write(m.x, m.y+px*0.36, text, render.Style{Px: px, Bold: true, Color: fg, Align: 0.5})
}

// grouped writes a whole number with thin groups of three digits.
func grouped(n int) string {
	s := strconv.Itoa(n)
	var b strings.Builder
	for i, r := range s {
		if i > 0 && (len(s)-i)%3 == 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// area writes an area with sensible digits.
func area(mm2 float64) string {
	if mm2 >= 100 {
		return grouped(int(math.Round(mm2))) + " mm²"
	}
	return fmt.Sprintf("%.3g mm²", mm2)
}

// direction writes a build direction.
func direction(b r3.Vector) string {
	f := func(v float64) string {
		return strconv.FormatFloat(math.Round(v*1000)/1000+0, 'f', -1, 64)
	}
	return f(b.X) + ", " + f(b.Y) + ", " + f(b.Z)
}
