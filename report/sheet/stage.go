package sheet

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/region"
	"skinstock/report/render"
)

// Input is what the pictures show.
type Input struct {
	Part, Recipe string // names as given; made safe here
	Version      string // of the program
	Assumed      bool   // the recipe holds assumed values
	Notes        []string

	Nominal, Grown *mesh.Mesh       // mm
	Skins          []region.Skin    // one a facet of Nominal
	Keep           []bool           // one a facet of Nominal, nil for none
	Allowance      mesh.CornerField // mm, at the facets of Grown
	BuildDir       r3.Vector
}

// Stage holds the part ready for pictures.
type Stage struct {
	in      Input
	workers int
	nominal *render.Model
	grown   *render.Model
	extent  [len(Views)]render.Extent
	camera  [len(Views)]render.View
	areas   [len(region.Skins)]skinFigures
	scale   *render.Scale // allowance, um

	least, mean, most float64 // allowance over the grown part, um
}

// skinFigures are one class's entries in the legend.
type skinFigures struct {
	areaMM2     float64
	allowanceUM float64 // mean over the area
}

// ErrInput is wrapped by errors about pictures that cannot be drawn as asked.
var ErrInput = errors.New("pictures cannot be drawn")

// NewStage checks the input and makes it ready.
func NewStage(ctx context.Context, in Input, workers int) (*Stage, error) {
	switch {
	case in.Nominal == nil || in.Grown == nil || len(in.Nominal.Facets) == 0 || len(in.Grown.Facets) == 0:
		return nil, fmt.Errorf("%w: a mesh has no facets", ErrInput)
	case len(in.Skins) != len(in.Nominal.Facets) || (in.Keep != nil && len(in.Keep) != len(in.Skins)):
		return nil, fmt.Errorf("%w: %d skins for %d facets of the nominal part", ErrInput, len(in.Skins), len(in.Nominal.Facets))
	case len(in.Allowance) != len(in.Grown.Facets):
		return nil, fmt.Errorf("%w: allowance at %d facets for %d facets of the grown part", ErrInput, len(in.Allowance), len(in.Grown.Facets))
	case !(in.BuildDir.Norm() > 0):
		return nil, fmt.Errorf("%w: the build direction has no length", ErrInput)
	}
	s := &Stage{in: in, workers: workers}
	opt := render.ModelOptions{Workers: workers}
	var err error
	if s.nominal, err = render.NewModel(ctx, in.Nominal, nil, opt); err != nil {
		return nil, err
	}
	if s.grown, err = render.NewModel(ctx, in.Grown, nil, opt); err != nil {
		return nil, err
	}
	if slices.Equal(in.Grown.Facets, in.Nominal.Facets) {
		// Lines that only the growing brought out would distract from the pair.
		s.grown.Edges = s.nominal.Edges
	}
	for _, v := range Views {
		c := v.Camera(in.BuildDir)
		s.extent[v] = c.Extent(in.Nominal.Vertices).Union(c.Extent(in.Grown.Vertices))
		s.camera[v] = c.On(s.extent[v])
	}
	s.measure()
	return s, ctx.Err()
}

// measure fills in the legend's figures. Allowance is averaged over the facets
// of the grown part when both meshes share their connectivity, and left out otherwise.
func (s *Stage) measure() {
	in := s.in
	same := len(in.Grown.Facets) == len(in.Nominal.Facets)
	var weighted [len(region.Skins)]float64
	for f := range in.Nominal.Facets {
		a := in.Nominal.FacetArea(f)
		k := in.Skins[f]
		s.areas[k].areaMM2 += a
		if same {
			weighted[k] += a * 1000 * in.Allowance.At(f, 1./3, 1./3, 1./3)
		}
	}
	s.least = math.Inf(1)
	var total float64
	for f, c := range in.Allowance {
		s.least = math.Min(s.least, 1000*min(c[0], c[1], c[2]))
		s.most = math.Max(s.most, 1000*max(c[0], c[1], c[2]))
		a := in.Grown.FacetArea(f)
		total += a
		s.mean += a * 1000 * (c[0] + c[1] + c[2]) / 3
	}
	s.mean /= math.Max(total, math.SmallestNonzeroFloat64)
	for k := range s.areas {
		s.areas[k].allowanceUM = math.NaN()
		if same && s.areas[k].areaMM2 > 0 {
			s.areas[k].allowanceUM = weighted[k] / s.areas[k].areaMM2
		}
	}
	s.scale = render.NewScale(render.Viridis, 0, niceTop(s.most))
}

// niceTop returns a round end for a scale from zero: the first multiple of a
// step of 1, 2 or 5 times a power of ten, about a twelfth of the value, that holds it.
func niceTop(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	step := render.RoundStep(v / 12)
	return step * math.Ceil(v/step-1e-9)
}

// Layer is what a picture shows.
type Layer int

// Layers.
const (
	Skins     Layer = iota // nominal part, skins
	Allowance              // grown part, allowance
)

// Title returns what a layer shows, for captions.
func (l Layer) Title() string {
	if l == Skins {
		return "nominal, skins"
	}
	return "grown, allowance"
}

// Picture draws one view of one layer without lettering, at a scale in pixels
// a mm; 0 fits the part into the picture. Pictures of the same view, size and
// scale have the same camera.
func (s *Stage) Picture(ctx context.Context, v View, l Layer, w, h int, pxPerMM float64) (*render.Frame, error) {
	cam := s.camera[v]
	cam.PxPerMM = pxPerMM
	if pxPerMM == 0 {
		size := s.extent[v].Size()
		cam.PxPerMM = math.Min(float64(w-2*cellSide)/size.X, float64(h-2*cellSide)/size.Y)
	}
	model, paint := s.nominal, skinPaint(s.in.Skins, s.in.Keep)
	if l == Allowance {
		model, paint = s.grown, fieldPaint(s.in.Allowance, 1000, s.scale)
	}
	return render.Draw(ctx, model, cam, render.Options{
		Width: w, Height: h, Workers: s.workers, Background: render.Hex(0xFFFFFF), Paint: paint,
		CreasePx: 1, OutlinePx: 1.6, Ink: render.Hex(0x1B1B1B),
	})
}

// figure is one picture placed on a sheet.
type figure struct {
	rect  image.Rectangle
	frame *render.Frame
}
