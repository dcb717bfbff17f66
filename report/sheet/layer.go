package sheet

import (
	"context"
	"fmt"
	"image"
	"math"
	"strings"

	"skinstock/report/render"
)

// Layer is what a picture shows.
type Layer int

// Layers.
const (
	Skins      Layer = iota // nominal part, skins
	Allowance               // grown part, allowance
	Deviation               // nominal part, proof: stock found less stock called for
	FinishedRa              // nominal part, expected Ra after the bath
	Exposure                // nominal part, current of each place over the mean
	Finish                  // nominal part, predicted finish: metal left over, or missing
	numLayers
)

var layers = [numLayers]struct {
	title, legend, slug string
	unit                string // with the space before it
	digits              int
	times               float64 // from the input's unit to it
}{
	Skins:      {"nominal, skins", "Skins of the nominal part", "skins", "", 0, 0},
	Allowance:  {"grown, allowance", "Allowance of the grown part, µm", "allowance", " µm", 1, 1000},
	Deviation:  {"proof, deviation", "Deviation of the stock from what is called for, µm", "deviation", " µm", 1, 1000},
	FinishedRa: {"expected finish, Ra", "Expected Ra after the bath, µm", "finished-ra", " µm", 2, 1},
	Exposure:   {"bath, local current", "Current of each place over the part's mean", "exposure", "", 2, 1},
	Finish:     {"predicted finish", "Predicted finished surface off nominal, µm", "predicted-finish", " µm", 1, 1000},
}

// centred tells whether a layer's scale has zero in its middle and marks for what lies beyond.
func (l Layer) centred() bool { return l == Deviation || l == Finish }

// Title returns what a layer shows, for captions.
func (l Layer) Title() string { return layers[l].title }

// Slug returns the layer's name in file names.
func (l Layer) Slug() string { return layers[l].slug }

// ParseLayer returns the layer of a slug.
func ParseLayer(slug string) (Layer, error) {
	var all []string
	for l := range numLayers {
		if l.Slug() == slug {
			return l, nil
		}
		all = append(all, l.Slug())
	}
	return 0, fmt.Errorf("layer %q: want one of %s", slug, strings.Join(all, ", "))
}

// Has tells whether the input holds what a layer shows.
func (s *Stage) Has(l Layer) bool { return l == Skins || s.scales[l] != nil }

// Colours of places beyond the deviation scale: stronger than its ends, and
// not part of it.
const (
	underColour = 0xCC0000
	overColour  = 0x1A1A1A
	noneColour  = 0x9A9A9A // not measured
)

// layer returns what a layer draws.
func (s *Stage) layer(l Layer) (*render.Model, render.Paint) {
	switch {
	case l == Skins:
		return s.nominal, skinPaint(s.in.Skins, s.in.Keep)
	case l == Allowance:
		return s.grown, s.allowancePaint()
	}
	return s.nominal, mapPaint(s.in.values(l), layers[l].times, s.scales[l])
}

// Picture draws one view of one layer without lettering, at a scale in pixels
// a mm; 0 fits the part into the picture. Pictures of the same view, size and
// scale have the same camera.
func (s *Stage) Picture(ctx context.Context, v View, l Layer, w, h int, pxPerMM float64) (f *render.Frame, err error) {
	err = s.pictures(ctx, v, []Layer{l}, w, h, pxPerMM, func(_ int, drawn *render.Frame) error {
		f = drawn
		return nil
	})
	return f, err
}

// SkinsPicture is Picture of the skins of a part of which nothing else is to be
// drawn: of the input only the meshes, skins, keep zones and the build direction count.
func SkinsPicture(ctx context.Context, in Input, v View, w, h, workers int) (*render.Frame, error) {
	s := &Stage{in: in, workers: workers}
	var err error
	if s.nominal, err = render.NewModel(ctx, in.Nominal, in.Topo, render.ModelOptions{Workers: workers}); err != nil {
		return nil, err
	}
	s.look(v)
	return s.Picture(ctx, v, Skins, w, h, 0)
}

// pictures is Picture of several layers. Each is handed on by its number as soon
// as it is drawn: those of the nominal part, which are drawn together, first.
func (s *Stage) pictures(ctx context.Context, v View, layers []Layer, w, h int, pxPerMM float64, done func(i int, f *render.Frame) error) error {
	cam := s.camera[v]
	cam.PxPerMM = pxPerMM
	if pxPerMM == 0 {
		size := s.extent[v].Size()
		cam.PxPerMM = math.Min(float64(w-2*cellSide)/size.X, float64(h-2*cellSide)/size.Y)
	}
	opt := render.Options{
		Width: w, Height: h, Workers: s.workers, Background: render.Hex(0xFFFFFF),
		CreasePx: 1, OutlinePx: 1.6, Ink: render.Hex(0x1B1B1B), OcclusionPx: 14,
	}
	for _, model := range [...]*render.Model{s.nominal, s.grown} {
		var numbers []int
		var paints []render.Paint
		for i, l := range layers {
			if m, paint := s.layer(l); m == model {
				numbers, paints = append(numbers, i), append(paints, paint)
			}
		}
		if paints == nil {
			continue
		}
		frames, err := render.DrawEach(ctx, model, cam, opt, paints...)
		if err != nil {
			return err
		}
		for k, i := range numbers {
			if err := done(i, frames[k]); err != nil {
				return err
			}
		}
	}
	return nil
}

// figure is one picture placed on a sheet.
type figure struct {
	rect  image.Rectangle
	frame *render.Frame
}
