package sheet

import (
	"math"

	"skinstock/region"
	"skinstock/report/render"
)

// SkinStyle is how a class of skin looks in pictures and legends.
type SkinStyle struct {
	Colour uint32 // sRGB
	Hatch  render.Hatch
	Ink    uint32 // of the hatch
}

// Styles are the classes' looks by region.Skin: colours of the Okabe-Ito set
// (M. Okabe and K. Ito, Color Universal Design, 2008) and a neutral grey, and
// a hatch of its own for each but the vertical class.
var Styles = [...]SkinStyle{
	region.Upskin:   {0xD55E00, render.Hatch{Period: 9, Width: 3.4, Dots: true, Angle: 45}, 0x8A3C00},
	region.Vertical: {0xBBBBBB, render.Hatch{}, 0},
	region.Downskin: {0x0072B2, render.Hatch{Period: 7, Width: 1.8, Angle: 45}, 0x8CC4E6},
	region.Platform: {0xF0E442, render.Hatch{Period: 9, Width: 1.4, Cross: true}, 0x7A7212},
}

// Keep says whether a keep zone takes a facet, and how.
type Keep uint8

// Kinds of Keep.
const (
	NotKept Keep = iota
	Masked       // nothing added, nothing taken
	Stocked      // left with stock for machining
	numKeeps
)

// keepHatches lie in black over the skin's colour in keep zones.
var keepHatches = [numKeeps]render.Hatch{
	Masked:  {Period: 6, Width: 2.2, Angle: -45},
	Stocked: {Period: 10, Width: 1.6, Angle: 45, Cross: true},
}

var keepLabels = [numKeeps]string{Masked: "masked", Stocked: "stock"}

// look is a style with its colours decoded.
type look struct {
	colour, ink render.RGB
	hatch       render.Hatch
}

func (s SkinStyle) look() look { return look{render.Hex(s.Colour), render.Hex(s.Ink), s.Hatch} }

// at returns the colour at a place of a picture.
func (l look) at(x, y float64) render.RGB {
	if k := l.hatch.Cover(x, y); k > 0 {
		return l.colour.Mix(l.ink, k)
	}
	return l.colour
}

// skinPaint colours facets by their skin; keep zones carry a black hatch.
func skinPaint(skins []region.Skin, keep []Keep) render.Paint {
	var looks [len(Styles)]look
	for k, s := range Styles {
		looks[k] = s.look()
	}
	return func(s render.Spot) render.RGB {
		c := looks[skins[s.Facet]].at(s.X, s.Y)
		if keep != nil {
			c = c.Mix(render.RGB{}, keepHatches[keep[s.Facet]].Cover(s.X, s.Y))
		}
		return c
	}
}

// allowancePaint colours the facets of the grown part by their allowance.
func (s *Stage) allowancePaint() render.Paint {
	times, scale := layers[Allowance].times, s.scales[Allowance]
	return func(p render.Spot) render.RGB {
		c := s.in.AllowanceOf(p.Facet)
		return scale.At(times * (float64(p.U*c[0]) + float64(p.V*c[1]) + float64(p.W*c[2])))
	}
}

// mapPaint colours facets by their values times a factor; what is not a number is
// grey: not measured.
func mapPaint(values []float64, times float64, scale *render.Scale) render.Paint {
	none := render.Hex(noneColour)
	return func(s render.Spot) render.RGB {
		v := times * values[s.Facet]
		if math.IsNaN(v) {
			return none
		}
		return scale.At(v)
	}
}
