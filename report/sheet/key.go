package sheet

import (
	"image"
	"strconv"

	"skinstock/report/render"
)

// Places of the list of pins in a sheet's foot, pixels.
const (
	keyLeft  = 700
	keyPitch = 24
)

// keyHeight is the height of the foot that the list of pins needs.
func (s *Stage) keyHeight() int { return 12 + 26 + keyPitch*min(len(s.in.Pins), maxPins) + margin }

// key lists the pins with what they say.
func (s *Stage) key(c canvas, pen *render.Pen, r image.Rectangle) {
	x, y := float64(r.Min.X), float64(r.Min.Y)
	pen.Write(x, y+12, s.in.PinsTitle, render.Style{Px: 15, Bold: true, Color: ink, MaxPx: r.Dx()})
	for i, p := range s.in.Pins[:min(len(s.in.Pins), maxPins)] {
		ty := y + 38 + keyPitch*float64(i)
		badge(c, pen, point{x + 9, ty - 5}, strconv.Itoa(p.Number), p.Strong)
		pen.Write(x+28, ty, p.Text, render.Style{Px: 14, Color: ink, MaxPx: r.Dx() - 28})
	}
}
