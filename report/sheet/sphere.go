package sheet

import (
	"fmt"
	"image/color"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/report/render"
)

// SphereMap is what a map of scores over all directions shows.
type SphereMap struct {
	Part, Recipe string
	Assumed      bool // the scores rest on assumed values
	Dirs         []r3.Vector
	Scores       []float64 // of Dirs; not a number for a direction that is no choice
	Marks        []SphereMark
}

// SphereMark is a direction to point out.
type SphereMark struct {
	Dir  r3.Vector
	Text string // 1, 2 or 3 letters in a disc; empty for a ring, which may lie around another mark
	Note string // for the legend
}

// Measures of the map in pixels.
const (
	sphereWidth, sphereHeight = 1120, 720
	sphereRadius              = 240
	sphereRings               = 24 // of cells, each of equal height and area
)

// sphereDisc is one half of the sphere, seen along z.
type sphereDisc struct {
	middle point
	up     bool
}

// at returns where d lies on the disc by Lambert's azimuthal projection, under
// which equal solid angles have equal areas: the radius goes as the sine of half
// the angle to the pole.
func (s sphereDisc) at(d r3.Vector) point {
	r := sphereRadius * math.Sqrt(max(0, 1-math.Abs(d.Z)))
	l := math.Hypot(d.X, d.Y)
	if l == 0 {
		return s.middle
	}
	return point{s.middle.x + r*d.X/l, s.middle.y - r*d.Y/l}
}

// dir is the inverse of at for the place at share q of the radius and angle phi.
func (s sphereDisc) dir(q, phi float64) r3.Vector {
	z := 1 - q*q
	r := math.Sqrt(max(0, 1-z*z))
	if !s.up {
		z = -z
	}
	return r3.Vector{X: r * math.Cos(phi), Y: r * math.Sin(phi), Z: z}
}

// Drawing draws the two halves of the sphere of build directions, equal areas
// for equal solid angles, coloured by score.
func (m *SphereMap) Drawing() (*Drawing, error) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range m.Scores {
		if !math.IsNaN(s) {
			lo, hi = min(lo, s), max(hi, s)
		}
	}
	if len(m.Dirs) != len(m.Scores) || len(m.Dirs) == 0 {
		return nil, fmt.Errorf("%w: a map of directions needs scores", ErrInput)
	}
	if lo > hi { // no direction is a choice
		lo, hi = 0, 1
	}
	if hi-lo < 1e-9*math.Abs(hi) {
		hi = lo + 1 // a ball is as good any way
	}
	d := &Drawing{Width: sphereWidth, Height: sphereHeight, Title: "Score of build directions of " + render.Clean(m.Part) + ", lower is better"}
	d.write(30, 40, 22, true, 0, ink, render.Clean(m.Part))
	d.write(30, 64, 14, false, 0, softInk, "score of every build direction, lower is better  ·  recipe: "+render.Clean(m.Recipe)+assumedNote(m.Assumed))
	scale := render.NewScale(render.Viridis, lo, hi)
	for _, s := range [...]sphereDisc{{point{280, 350}, true}, {point{840, 350}, false}} {
		m.disc(d, s, scale)
	}
	for _, k := range m.Marks {
		s := sphereDisc{point{280, 350}, true}
		if k.Dir.Z < 0 {
			s = sphereDisc{point{840, 350}, false}
		}
		d.mark(s.at(k.Dir), k.Text)
	}
	m.legend(d, scale)
	return d, nil
}

func assumedNote(assumed bool) string {
	if assumed {
		return ", values assumed"
	}
	return ""
}

// disc draws one half.
func (m *SphereMap) disc(d *Drawing, s sphereDisc, scale *render.Scale) {
	none := render.Hex(noneColour).SRGB()
	for ring := range sphereRings {
		q0, q1 := float64(ring)/sphereRings, float64(ring+1)/sphereRings
		n := max(4, 6*ring)
		for i := range n {
			a0, a1 := 2*math.Pi*float64(i)/float64(n), 2*math.Pi*float64(i+1)/float64(n)
			v := m.nearest(s.dir((q0+q1)/2, (a0+a1)/2))
			col := none
			if !math.IsNaN(v) {
				col = scale.At(v).SRGB()
			}
			// The stroke closes the hair between cells.
			d.add(item{paths: [][]point{s.cell(q0, q1, a0, a1)}, closed: true, fill: col, stroke: col, width: 0.7})
		}
	}
	for _, deg := range [...]float64{30, 60, 90} {
		r := sphereRadius * math.Sqrt(1-math.Cos(deg*math.Pi/180))
		d.circle(s.middle, r, color.RGBA{}, color.RGBA{255, 255, 255, 255}, 1)
		if deg < 90 {
			d.write(s.middle.x+3, s.middle.y-r+12, 11, false, 0, color.RGBA{255, 255, 255, 255}, fmt.Sprintf("%.0f°", deg))
		}
	}
	d.circle(s.middle, sphereRadius, color.RGBA{}, ink, 1.2)
	r := float64(sphereRadius)
	title := "towards +z: the part as it lies, or tilted"
	if !s.up {
		title = "towards -z: the part upside down"
	}
	d.write(s.middle.x, s.middle.y-r-14, 14, true, 0.5, ink, title)
	for _, t := range [...]struct {
		text   string
		x, y   float64
		anchor float64
	}{{"+x", r + 6, 4, 0}, {"-x", -r - 6, 4, 1}, {"+y", 0, -r + 14, 0.5}, {"-y", 0, r + 16, 0.5}} {
		col := ink
		if t.text == "+y" {
			col = color.RGBA{255, 255, 255, 255}
		}
		d.write(s.middle.x+t.x, s.middle.y+t.y, 13, false, t.anchor, col, t.text)
	}
}

// cell returns the outline of a cell between two radii and two angles.
func (s sphereDisc) cell(q0, q1, a0, a1 float64) []point {
	const parts = 3
	var out []point
	add := func(q, a float64) {
		sin, cos := math.Sincos(a)
		out = append(out, point{s.middle.x + sphereRadius*q*cos, s.middle.y - sphereRadius*q*sin})
	}
	for i := range parts + 1 {
		add(q1, a0+(a1-a0)*float64(i)/parts)
	}
	for i := range parts + 1 {
		add(q0, a1+(a0-a1)*float64(i)/parts)
	}
	return out
}

// nearest returns the score of the direction nearest to d.
func (m *SphereMap) nearest(d r3.Vector) float64 {
	best, at := -2.0, 0
	for i := range m.Dirs {
		if c := m.Dirs[i].Dot(d); c > best {
			best, at = c, i
		}
	}
	return m.Scores[at]
}

// mark draws a disc with a text, or a ring.
func (d *Drawing) mark(m point, text string) {
	if text == "" {
		d.circle(m, 14, color.RGBA{}, white, 5)
		d.circle(m, 14, color.RGBA{}, ink, 2.6)
		return
	}
	d.circle(m, 10.5, white, white, 1)
	d.circle(m, 9.5, white, ink, 1.2)
	px := 13.0
	if len(text) > 2 {
		px = 9
	}
	d.write(m.x, m.y+px*0.36, px, true, 0.5, ink, text)
}

// legend draws the scale and what the marks are.
func (m *SphereMap) legend(d *Drawing, scale *render.Scale) {
	const x, y, w, h = 30, 652, 360, 20
	const steps = 72
	for i := range steps {
		v := scale.Lo + (scale.Hi-scale.Lo)*(float64(i)+0.5)/steps
		x0 := x + w*float64(i)/steps
		col := scale.At(v).SRGB()
		d.add(item{paths: [][]point{{{x0, y}, {x0 + float64(w)/steps, y}, {x0 + float64(w)/steps, y + h}, {x0, y + h}}}, closed: true, fill: col, stroke: col, width: 0.7})
	}
	d.write(x, y-8, 13, true, 0, ink, "score: weighted shares of the worst direction")
	ticks, decimals := render.Ticks(scale.Lo, scale.Hi, 6)
	for _, t := range ticks {
		tx := x + w*(t-scale.Lo)/(scale.Hi-scale.Lo)
		d.line(point{tx, y + h}, point{tx, y + h + 5}, 1, ink)
		d.write(tx, y+h+19, 12, false, 0.5, ink, fmt.Sprintf("%.*f", decimals, t))
	}
	left := 430.0
	for i, k := range m.Marks {
		px, py := left+float64(i/3)*345, 656+float64(i%3)*24
		if k.Text == "" {
			d.circle(point{px, py - 4}, 8.5, color.RGBA{}, ink, 2.6)
		} else {
			d.mark(point{px, py - 4}, k.Text)
		}
		d.write(px+18, py, 13, false, 0, ink, render.Clean(k.Note))
	}
	for _, s := range m.Scores {
		if math.IsNaN(s) {
			i := len(m.Marks)
			px, py := left+float64(i/3)*345, 656+float64(i%3)*24
			d.circle(point{px, py - 4}, 8, render.Hex(noneColour).SRGB(), ink, 1)
			d.write(px+18, py, 13, false, 0, ink, "grey: too large so, or not to be treated")
			break
		}
	}
}
