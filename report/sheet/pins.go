package sheet

import (
	"image"
	"strconv"

	"github.com/golang/geo/r3"

	"skinstock/report/render"
)

// Pin is a numbered place on the part, keyed to a table of findings.
type Pin struct {
	Number int
	At     r3.Vector // mm
	Strong bool      // white on black, for errors; else black on white
	Text   string    // what the list of pins says beside the number
}

// maxPins is the number of pins that one picture carries at most: the first ones.
const maxPins = 40

// pinPlace is where a pin's foot and its disc lie on the canvas.
type pinPlace struct {
	pin        Pin
	foot, disc point
	hidden     bool
}

// placePins finds places for the discs so that they cover neither each other
// nor, more than needed, the feet.
func placePins(pins []Pin, f *render.Frame, r image.Rectangle) []pinPlace {
	if len(pins) > maxPins {
		pins = pins[:maxPins]
	}
	var out []pinPlace
	for _, p := range pins {
		x, y, z := f.View.Project(p.At, r.Dx(), r.Dy())
		if !(x >= 0 && y >= 0 && x < float64(r.Dx()) && y < float64(r.Dy())) {
			continue
		}
		// Findings lie on the surface or inside a feature: half a percent of
		// the picture's width is no cover.
		q := pinPlace{pin: p, foot: point{float64(r.Min.X) + x, float64(r.Min.Y) + y}}
		q.hidden = f.Depth(int(x), int(y)) < z-0.005*float64(r.Dx())/f.View.PxPerMM
		q.disc = freePlace(q.foot, out, r)
		out = append(out, q)
	}
	return out
}

// freePlace returns the nearest of some places around a foot whose disc touches no other.
func freePlace(foot point, taken []pinPlace, r image.Rectangle) point {
	best, most := foot, -1.0
	for ring := 1; ring <= 6; ring++ {
		for _, d := range [...]point{{0.7, -0.7}, {-0.7, -0.7}, {0, -1}, {1, 0}, {-1, 0}, {0.7, 0.7}, {-0.7, 0.7}, {0, 1}} {
			l := 20 * float64(ring)
			c := point{foot.x + d.x*l, foot.y + d.y*l}
			if c.x < float64(r.Min.X)+10 || c.y < float64(r.Min.Y)+10 || c.x > float64(r.Max.X)-10 || c.y > float64(r.Max.Y)-10 {
				continue
			}
			room := 1e9
			for _, t := range taken {
				dx, dy := t.disc.x-c.x, t.disc.y-c.y
				room = min(room, dx*dx+dy*dy)
			}
			if room >= 20*20 {
				return c
			}
			if room > most {
				best, most = c, room
			}
		}
	}
	return best
}

// drawPins draws the pins of a picture; a hidden place has a dotted stem.
func drawPins(c canvas, pen *render.Pen, places []pinPlace) {
	for _, p := range places {
		if p.hidden {
			for i := range 5 {
				t := (float64(i) + 0.5) / 5
				c.disc(point{p.foot.x + (p.disc.x-p.foot.x)*t, p.foot.y + (p.disc.y-p.foot.y)*t}, 1.1, ink)
			}
			c.disc(p.foot, 3, ink)
			c.disc(p.foot, 1.8, white)
			continue
		}
		c.line(p.foot, p.disc, 3, white)
		c.line(p.foot, p.disc, 1.4, ink)
		c.disc(p.foot, 3.4, white)
		c.disc(p.foot, 2.6, ink)
	}
	for _, p := range places {
		badge(c, pen, p.disc, strconv.Itoa(p.pin.Number), p.pin.Strong)
	}
}
