package render

import (
	"context"
	"fmt"
	"image"
	"math"
)

// Spot is a place on a facet that is to be coloured.
type Spot struct {
	Facet   int
	U, V, W float64 // barycentric coordinates, 0 to 1, sum 1
	X, Y    float64 // position in the picture, pixels from the upper left corner
}

// Paint returns the colour of a place under full light. It is called from
// several goroutines.
type Paint func(Spot) RGB

// Options tells what a picture is to be.
type Options struct {
	Width, Height int // pixels
	Samples       int // samples a pixel along each axis; 0 means 4
	Workers       int // 0 means GOMAXPROCS

	Background RGB   // the zero value is black
	Paint      Paint // nil means light grey
	Light      Light // the zero value means StudioLight

	// CreasePx and OutlinePx are the widths of the lines on feature edges and
	// along outlines, in pixels; 0 draws none.
	CreasePx, OutlinePx float64
	Ink                 RGB // colour of the lines

	// OcclusionPx is how far around a pixel the picture looks for surface that
	// takes light from it, in pixels; 0 leaves hollows as bright as the rest.
	OcclusionPx float64

	// TwoSided also draws facets seen from inside the metal, darkened. Closed
	// parts do not need it.
	TwoSided bool
}

// Frame is a drawn picture with what lies behind every pixel.
type Frame struct {
	Image *image.RGBA
	View  View

	opt     Options
	w, h, n int       // pixels, and samples a pixel along an axis
	depth   []float32 // pixels, at the sample nearest to the middle; mm, +Inf where there is nothing
	facet   []int32   // pixels, likewise; -1 where there is nothing
	open    []float32 // pixels: share of light from around that is let through
	inked   float64   // strength of the lines, 0 to 1
	covered int       // samples that show the part
}

// maxSide bounds the size of a picture: above it, fixed-point positions
// and memory would run out.
const maxSide = 16384

// Draw draws a model.
func Draw(ctx context.Context, m *Model, v View, opt Options) (*Frame, error) {
	if opt.Paint == nil {
		grey := Hex(0xCCCCCC)
		opt.Paint = func(Spot) RGB { return grey }
	}
	fs, err := DrawEach(ctx, m, v, opt, opt.Paint)
	if err != nil {
		return nil, err
	}
	return fs[0], nil
}

// DrawEach draws a model once in each of several colours, as Draw would, but looks
// at the facets and the light on them only once. The pictures share what lies
// behind their pixels.
func DrawEach(ctx context.Context, m *Model, v View, opt Options, paints ...Paint) ([]*Frame, error) {
	if opt.Samples == 0 {
		opt.Samples = 4
	}
	if opt.Width < 1 || opt.Height < 1 || opt.Width > maxSide || opt.Height > maxSide || opt.Samples < 1 || opt.Samples > 8 {
		return nil, fmt.Errorf("picture of %d x %d pixels with %d samples a pixel: sides must be 1 to %d, samples 1 to 8",
			opt.Width, opt.Height, opt.Samples, maxSide)
	}
	if opt.Light == (Light{}) {
		opt.Light = StudioLight
	}
	f := newFrame(v, opt)
	pr, err := f.project(ctx, m)
	if err != nil {
		return nil, err
	}
	bands, err := f.sample(ctx, m, pr)
	if err != nil {
		return nil, err
	}
	if err := f.occlude(ctx, bands); err != nil {
		return nil, err
	}
	out := make([]*Frame, len(paints))
	for i := range out {
		g := *f
		g.Image = image.NewRGBA(image.Rect(0, 0, f.w, f.h))
		out[i] = &g
	}
	return out, f.resolve(ctx, m, pr, bands, paints, out)
}

func newFrame(v View, opt Options) *Frame {
	f := &Frame{View: v, opt: opt, w: opt.Width, h: opt.Height, n: opt.Samples}
	f.depth = make([]float32, f.w*f.h)
	f.facet = make([]int32, f.w*f.h)
	setAll(f.depth, float32(math.Inf(1)))
	setAll(f.facet, -1)
	return f
}

// setAll sets all of a slice, by copies, which are faster than stores.
func setAll[T any](s []T, v T) {
	const step = 4096
	for i := range min(len(s), step) {
		s[i] = v
	}
	for i := step; i < len(s); i += step {
		copy(s[i:], s[:step])
	}
}

// Depth returns the depth in mm of the sample nearest to the middle of a pixel,
// behind the plane through the view's centre; +Inf where there is nothing.
func (f *Frame) Depth(x, y int) float64 { return float64(f.depth[y*f.w+x]) }

// Facet returns the facet at the sample nearest to the middle of a pixel, or -1.
func (f *Frame) Facet(x, y int) int { return int(f.facet[y*f.w+x]) }

// Coverage returns the share of all samples that show the part, 0 to 1.
func (f *Frame) Coverage() float64 {
	return float64(f.covered) / float64(f.w*f.h*f.n*f.n)
}
