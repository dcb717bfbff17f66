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
// the one of the skins and is drawn open from the right. Layers of the nominal
// part that follow each other are drawn faster than one by one.
func (s *Stage) Labelled(ctx context.Context, v View, layers []Layer, w, h int) ([]*Labelled, error) {
	d := &drawer{stage: s}
	var out []*Labelled
	for _, l := range layers {
		q, err := d.labelled(ctx, v, l, w, h)
		if err != nil {
			return nil, err
		}
		out = append(out, q)
	}
	return out, nil
}

func (d *drawer) labelled(ctx context.Context, v View, l Layer, w, h int) (*Labelled, error) {
	s := d.stage
	if w < minCellW || h < minCellH {
		return nil, fmt.Errorf("%w: a picture of %d x %d pixels is too small for its lettering: at least %d x %d",
			ErrInput, w, h, minCellW, minCellH)
	}
	if !s.Has(l) {
		return nil, fmt.Errorf("%w: there is nothing to show as layer %d", ErrInput, l)
	}
	c := newCanvas(w, h, white)
	pen, err := render.NewPen(c.img)
	if err != nil {
		return nil, err
	}
	size := s.extent[v].Size()
	scale := min(float64(w-2*cellSide)/size.X, float64(h-cellTop-cellBottom)/size.Y)
	align := 0.0
	if l == Allowance {
		align = 1
	}
	places, err := d.cell(ctx, c, pen, c.img.Rect, v, l, scale, align)
	if err != nil {
		return nil, err
	}
	out := &Labelled{Image: c.img}
	for _, p := range places {
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

// Input returns what the pictures show.
func (s *Stage) Input() Input { return s.in }

// Scale returns the colour scale of a layer, or nil.
func (s *Stage) Scale(l Layer) *render.Scale { return s.scales[l] }
