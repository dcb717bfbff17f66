package render

import (
	"context"
	"math"
)

// occlusionDirs and occlusionRings place the looks around a pixel: fixed, so
// that equal parts look alike and pictures repeat.
const (
	occlusionDirs  = 12
	occlusionRings = 3
)

// occlude computes, at every pixel, the share of light from around that nearby
// surface lets through, from the depths around it: hollows are darker. It is a
// picture of depth, not of light, and serves to make shapes readable.
func (f *Frame) occlude(ctx context.Context, bands []band) error {
	reach := f.opt.OcclusionPx
	if reach <= 0 {
		return nil
	}
	f.open = make([]float32, f.w*f.h)
	var looks [occlusionDirs * occlusionRings]look
	for i := range looks {
		ring, dir := i/occlusionDirs, i%occlusionDirs
		// Rings are turned against each other, so that their looks do not line up.
		s, c := math.Sincos(2 * math.Pi * (float64(dir) + float64(ring)/occlusionRings) / occlusionDirs)
		r := reach * (float64(ring) + 1) / occlusionRings
		x, y := math.Round(r*c), math.Round(r*s)
		looks[i] = look{int(x), int(y), math.Sqrt(x*x + y*y)}
	}
	return each(ctx, len(bands), f.opt.Workers, func(i int) {
		for tile, part := range bands[i].part {
			if part {
				f.occludeTile(&bands[i], tile, looks[:])
			}
		}
	})
}

// occludeTile is occlude for the pixels of a tile.
func (f *Frame) occludeTile(b *band, tile int, looks []look) {
	lo, hi := f.columns(tile)
	for y := b.lo; y < b.hi; y++ {
		for x := lo; x < hi; x++ {
			z := f.depth[y*f.w+x]
			if math.IsInf(float64(z), 1) {
				f.open[y*f.w+x] = 1
				continue
			}
			sum := 0.0
			for _, l := range looks {
				sum += f.blocks(x, y, float64(z), l)
			}
			f.open[y*f.w+x] = float32(1 - sum/float64(len(looks)))
		}
	}
}

// look is a place beside a pixel, and how far away it is in pixels.
type look struct {
	x, y int
	far  float64
}

// rise is how far the surface at a pixel stands in front of a depth, in pixels;
// false where there is no surface.
func (f *Frame) rise(x, y int, z float64) (float64, bool) {
	if x < 0 || y < 0 || x >= f.w || y >= f.h {
		return 0, false
	}
	d := float64(f.depth[y*f.w+x])
	return (z - d) * f.View.PxPerMM, d <= math.MaxFloat32
}

// blocks tells how far a look from a pixel is blocked, 0 to 1. Looks come in
// opposite pairs: what rises on one side and falls on the other is a slope and
// blocks nothing.
func (f *Frame) blocks(x, y int, z float64, l look) float64 {
	a, ok := f.rise(x+l.x, y+l.y, z)
	if !ok {
		return 0
	}
	if b, ok := f.rise(x-l.x, y-l.y, z); ok {
		a = (a + b) / 2
	}
	if a <= 0.05*l.far {
		return 0
	}
	// What stands far in front is another limb, not the wall of a hollow.
	fade := clamp01(2.5 - a/(2*f.opt.OcclusionPx))
	return a / math.Sqrt(a*a+l.far*l.far) * fade
}
