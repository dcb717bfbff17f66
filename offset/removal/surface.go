package removal

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/s1"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// ErrOutsideTable is returned when a surface lies outside a roughness table
// whose recipe forbids to go on with the last row.
var ErrOutsideTable = errors.New("outside the roughness table")

// Surface is the as-built surface of a place, in um.
type Surface struct {
	RaUM       float64
	RzUM       float64 // RpUM + RvUM
	RpUM       float64 // peaks over the mean surface
	RvUM       float64 // pits under the mean surface
	OversizeUM float64 // mean surface outside the size datum

	WavelengthUM float64 // pitch; 0 when not known
	Outside      bool    // beyond the last row of a table, which stands in
}

// Roughness is a source of as-built surfaces.
type Roughness interface {
	// At returns the surface of a place. The angle in degrees is between the
	// outward normal and the build direction: 0 flat top, 90 wall, 180 ceiling.
	At(skin region.Skin, deg float64) Surface

	// Continuous tells whether the angle matters, not the skin alone.
	Continuous() bool
}

// roughnessOf returns the source given with the options, else the one that the recipe names.
func roughnessOf(r *recipe.Recipe, opt Options) (Roughness, error) {
	if opt.Roughness != nil {
		return opt.Roughness, nil
	}
	switch r.Roughness.Model {
	case recipe.ModelTable:
		return newTable(r)
	case recipe.ModelStairStep:
		return newStairStep(r), nil
	}
	return newClasses(r), nil
}

// angle returns degrees between normal and build direction. Upskin and vertical
// places give just that; downskin and platform places may also give their
// inclination to the platform, 0 to 90 degrees. No angle at all counts as a wall.
func angle(skin region.Skin, theta s1.Angle) float64 {
	deg := math.Abs(theta.Degrees())
	if math.IsNaN(deg) {
		deg = 90
	}
	if (skin == region.Downskin || skin == region.Platform) && deg < 90 {
		deg = 180 - deg
	}
	return math.Min(deg, 180)
}

// heights fills in what a row leaves out: Rz from Ra, Rp from Rz, Rv as the rest.
func heights(r *recipe.Roughness, w recipe.Row) Surface {
	s := Surface{RaUM: w.RaUM.Value, OversizeUM: w.OversizeUM.Value, WavelengthUM: w.WavelengthUM.Or(0)}
	rz, rp, rv := w.RzUM, w.RpUM, w.RvUM
	switch {
	case rp.Given() && rv.Given():
		s.RpUM, s.RvUM = rp.Value, rv.Value
	case rv.Given():
		s.RvUM = rv.Value
		s.RpUM = math.Max(0, rz.Or(r.RzPerRa.Value*s.RaUM)-rv.Value)
	case rp.Given():
		s.RpUM = rp.Value
		s.RvUM = math.Max(0, rz.Or(r.RzPerRa.Value*s.RaUM)-rp.Value)
	default:
		z := rz.Or(r.RzPerRa.Value * s.RaUM)
		s.RpUM = r.PeakShare.Value * z
		s.RvUM = z - s.RpUM
	}
	s.RzUM = s.RpUM + s.RvUM
	return s
}

// classes is one surface a skin.
type classes [len(region.Skins)]Surface

func newClasses(r *recipe.Recipe) *classes {
	c := r.Roughness.Classes
	platform := c.Platform
	if platform == nil {
		platform = c.Downskin
	}
	var out classes
	for skin, row := range [...]*recipe.Row{
		region.Upskin: c.Upskin, region.Vertical: c.Vertical, region.Downskin: c.Downskin, region.Platform: platform,
	} {
		out[skin] = heights(&r.Roughness, *row)
	}
	return &out
}

func (c *classes) At(skin region.Skin, _ float64) Surface { return c[skin] }
func (c *classes) Continuous() bool                       { return false }

// outsideError says where a table ends.
func outsideError(skin region.Skin, deg float64) error {
	return fmt.Errorf("%s at %.1f deg from the build direction is %w: add rows, or write outside: clamp", skin, deg, ErrOutsideTable)
}
