package sheet

import (
	"context"
	"fmt"
	"image"
	"strings"

	"skinstock/region"
	"skinstock/report/render"
)

// Labelled is one view with caption, scale bar, build direction and pins.
type Labelled struct {
	Image *image.RGBA
	Pins  []PinSpot // the pins that are drawn, none on the skins' layer
}

// PinSpot is where a pin's number stands, as shares of the picture's sides.
type PinSpot struct {
	Number int
	X, Y   float64
}

// Labelled draws one view of each of the layers as large as it fits. Pictures of
// one view and size have the same camera whatever the layer. The caption of the
// allowance stands at the right, so that it shows when the picture lies under
// the one of the skins and is drawn open from the right. Layers drawn together
// take less time than one by one.
func (s *Stage) Labelled(ctx context.Context, v View, layers []Layer, w, h int) ([]*Labelled, error) {
	if w < minCellW || h < minCellH {
		return nil, fmt.Errorf("%w: a picture of %d x %d pixels is too small for its lettering: at least %d x %d",
			ErrInput, w, h, minCellW, minCellH)
	}
	for _, l := range layers {
		if !s.Has(l) {
			return nil, fmt.Errorf("%w: there is nothing to show as layer %d", ErrInput, l)
		}
	}
	size := s.extent[v].Size()
	scale := min(float64(w-2*cellSide)/size.X, float64(h-cellTop-cellBottom)/size.Y)
	out := make([]*Labelled, len(layers))
	in := inside(image.Rect(0, 0, w, h))
	err := s.pictures(ctx, v, layers, in.Dx(), in.Dy(), scale, func(i int, f *render.Frame) (err error) {
		out[i], err = s.label(f, v, layers[i], w, h)
		return err
	})
	return out, err
}

func (s *Stage) label(f *render.Frame, v View, l Layer, w, h int) (*Labelled, error) {
	c := newCanvas(w, h, white)
	pen, err := render.NewPen(c.img)
	if err != nil {
		return nil, err
	}
	align := 0.0
	if l == Allowance {
		align = 1
	}
	out := &Labelled{Image: c.img}
	for _, p := range s.cell(c, pen, c.img.Rect, f, v, l, align) {
		out.Pins = append(out.Pins, PinSpot{p.pin.Number, p.disc.x / float64(w), p.disc.y / float64(h)})
	}
	return out, nil
}

// Legend draws the legend of a layer alone, and says in words what it shows.
func (s *Stage) Legend(l Layer) (*image.RGBA, string, error) {
	if !s.Has(l) {
		return nil, "", fmt.Errorf("%w: there is nothing to show as layer %d", ErrInput, l)
	}
	c := newCanvas(660, 150, white)
	pen, err := render.NewPen(c.img)
	if err != nil {
		return nil, "", err
	}
	r := c.img.Rect.Inset(8)
	if l != Skins {
		s.mapLegend(c, pen, r, l)
		f := s.figures[l]
		return c.img, fmt.Sprintf("%s: colour scale from %.4g to %.4g; on the part from %.1f to %.1f, mean %.1f",
			layers[l].legend, s.scales[l].Lo, s.scales[l].Hi, f.least, f.most, f.mean), nil
	}
	s.skinLegend(c, pen, r)
	text := layers[l].legend + ":"
	for _, k := range region.Skins {
		text += fmt.Sprintf(" %s %s, %s;", k.Letter(), skinLabels[k], area(s.areas[k].areaMM2))
	}
	return c.img, strings.TrimSuffix(text, ";"), nil
}

// Workers returns on how many goroutines pictures are drawn, 0 for one a processor.
func (s *Stage) Workers() int { return s.workers }

// Input returns what the pictures show.
func (s *Stage) Input() Input { return s.in }

// Scale returns the colour scale of a layer, or nil.
func (s *Stage) Scale(l Layer) *render.Scale { return s.scales[l] }
