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
	halfTurn       = occlusionDirs / 2
	occlusionLooks = halfTurn * occlusionRings // to both sides
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
	var looks [occlusionLooks]look
	for i := range looks {
		ring, dir := i/halfTurn, i%halfTurn
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
			for ring := range occlusionRings {
				var behind [halfTurn]float64
				for i, l := range looks[ring*halfTurn : (ring+1)*halfTurn] {
					var ahead float64
					ahead, behind[i] = f.blocks(x, y, float64(z), l)
					sum += ahead
				}
				for _, b := range behind {
					sum += b
				}
			}
			f.open[y*f.w+x] = float32(1 - sum/(2*occlusionLooks))
		}
	}
}

// look is a place beside a pixel and the one opposite, and how far away they are in pixels.
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

// blocks tells how far a look from a pixel and the one to the opposite side are
// blocked, 0 to 1. What rises on one side and falls on the other is a slope and
// blocks nothing.
func (f *Frame) blocks(x, y int, z float64, l look) (ahead, behind float64) {
	a, aOK := f.rise(x+l.x, y+l.y, z)
	b, bOK := f.rise(x-l.x, y-l.y, z)
	switch {
	case aOK && bOK:
		both := f.wall((a+b)/2, l.far)
		return both, both
	case aOK:
		return f.wall(a, l.far), 0
	case bOK:
		return 0, f.wall(b, l.far)
	}
	return 0, 0
}

// wall tells how far what rises so much so far away blocks a look, 0 to 1.
func (f *Frame) wall(rise, far float64) float64 {
	if rise <= 0.05*far {
		return 0
	}
	// What stands far in front is another limb, not the wall of a hollow.
	fade := clamp01(2.5 - rise/(2*f.opt.OcclusionPx))
	return rise / math.Sqrt(rise*rise+far*far) * fade
}
