package sheet

import (
	"math"

	"skinstock/mesh"
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

// keepHatch lies over the skin's colour in keep zones.
var keepHatch = render.Hatch{Period: 6, Width: 2.2, Angle: -45}

// At returns the style's colour at a place of a picture.
func (s SkinStyle) At(x, y float64) render.RGB {
	c := render.Hex(s.Colour)
	if k := s.Hatch.Cover(x, y); k > 0 {
		return c.Mix(render.Hex(s.Ink), k)
	}
	return c
}

// skinPaint colours facets by their skin; keep zones carry a black hatch.
func skinPaint(skins []region.Skin, keep []bool) render.Paint {
	return func(s render.Spot) render.RGB {
		c := Styles[skins[s.Facet]].At(s.X, s.Y)
		if keep != nil && keep[s.Facet] {
			c = c.Mix(render.RGB{}, keepHatch.Cover(s.X, s.Y))
		}
		return c
	}
}

// fieldPaint colours facets by a field times a factor; what is not a number is
// grey: not measured.
func fieldPaint(f mesh.CornerField, times float64, scale *render.Scale) render.Paint {
	none := render.Hex(noneColour)
	return func(s render.Spot) render.RGB {
		v := times * f.At(s.Facet, s.U, s.V, s.W)
		if math.IsNaN(v) {
			return none
		}
		return scale.At(v)
	}
}
