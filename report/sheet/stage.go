package sheet

import (
	"context"
	"errors"
	"fmt"
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
	Topo           *mesh.Topology   // of Nominal, nil to have it found out
	Skins          []region.Skin    // one a facet of Nominal
	Keep           []Keep           // one a facet of Nominal, nil for none
	Allowance      mesh.CornerField // mm, at the facets of Grown
	BuildDir       r3.Vector

	// What follows may be nil.
	Deviation  mesh.CornerField // mm, at the facets of Nominal: proof, positive where stock is too much
	FinishedRa mesh.CornerField // um, at the facets of Nominal: expected after the bath
	Exposure   mesh.CornerField // at the facets of Nominal: local current over the mean
	FinishOff  mesh.CornerField // mm, at the facets of Nominal: predicted finish, positive where metal is left
	Pins       []Pin            // places of the findings
	PinsTitle  string           // heads the list of pins
	PinSkins   bool             // the pins stand on the skins, in place of their letters, and not only on maps
	Finished   *mesh.Mesh       // predicted finished surface, for sections
	FinishedBy string           // what the prediction rests on, in a few words
	Spots      []Spot           // places worth a section, most important first
}

// Stage holds the part ready for pictures.
type Stage struct {
	in      Input
	workers int
	nominal *render.Model
	grown   *render.Model
	extent  [len(Views)]render.Extent
	camera  [len(Views)]render.View
	areas   [len(region.Skins)]skinFigures // without keep zones
	kept    [numKeeps]float64              // mm2
	scales  [numLayers]*render.Scale       // um; nil for skins and what is not given
	figures [numLayers]fieldFigures
}

// fieldFigures sum a field up, in um.
type fieldFigures struct{ least, mean, most float64 }

// figuresOf returns the figures of a field times a factor, its mean over the
// area; facets without a value are left out.
func figuresOf(m *mesh.Mesh, f mesh.CornerField, times float64) fieldFigures {
	g := fieldFigures{least: math.Inf(1), most: math.Inf(-1)}
	total := 0.0
	for i, c := range f {
		v := times * (c[0] + c[1] + c[2]) / 3
		if math.IsNaN(v) {
			continue
		}
		g.least = math.Min(g.least, times*min(c[0], c[1], c[2]))
		g.most = math.Max(g.most, times*max(c[0], c[1], c[2]))
		a := m.FacetArea(i)
		total += a
		g.mean += a * v
	}
	if total == 0 {
		return fieldFigures{}
	}
	g.mean /= total
	return g
}

// skinFigures are one class's entries in the legends.
type skinFigures struct {
	areaMM2 float64
	mean    [numLayers]float64 // of each map over the area, um; NaN where not known
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
	case in.Deviation != nil && len(in.Deviation) != len(in.Nominal.Facets),
		in.FinishedRa != nil && len(in.FinishedRa) != len(in.Nominal.Facets):
		return nil, fmt.Errorf("%w: deviation at %d and finished Ra at %d facets for %d facets of the nominal part",
			ErrInput, len(in.Deviation), len(in.FinishedRa), len(in.Nominal.Facets))
	case in.Exposure != nil && len(in.Exposure) != len(in.Nominal.Facets),
		in.FinishOff != nil && len(in.FinishOff) != len(in.Nominal.Facets):
		return nil, fmt.Errorf("%w: local current at %d and predicted finish at %d facets for %d facets of the nominal part",
			ErrInput, len(in.Exposure), len(in.FinishOff), len(in.Nominal.Facets))
	case !(in.BuildDir.Norm() > 0):
		return nil, fmt.Errorf("%w: the build direction has no length", ErrInput)
	}
	s := &Stage{in: in, workers: workers}
	opt := render.ModelOptions{Workers: workers}
	var err error
	if s.nominal, err = render.NewModel(ctx, in.Nominal, in.Topo, opt); err != nil {
		return nil, err
	}
	if slices.Equal(in.Grown.Facets, in.Nominal.Facets) {
		// Lines that only the growing brought out would distract from the pair.
		opt.EdgesOf = s.nominal
	}
	if s.grown, err = render.NewModel(ctx, in.Grown, nil, opt); err != nil {
		return nil, err
	}
	for _, v := range Views {
		s.look(v)
	}
	s.measure()
	return s, ctx.Err()
}

// look places the camera of a view so that both parts are in it.
func (s *Stage) look(v View) {
	c := v.Camera(s.in.BuildDir)
	s.extent[v] = c.Extent(s.in.Nominal.Vertices).Union(c.Extent(s.in.Grown.Vertices))
	s.camera[v] = c.On(s.extent[v])
}

// measure fills in the legends' figures. Allowance is averaged over the classes
// when both meshes share their facets, and left out otherwise.
func (s *Stage) measure() {
	in := s.in
	maps := [numLayers]mesh.CornerField{Deviation: in.Deviation, FinishedRa: in.FinishedRa, Exposure: in.Exposure, Finish: in.FinishOff}
	times := [numLayers]float64{Allowance: 1000, Deviation: 1000, FinishedRa: 1, Exposure: 1, Finish: 1000}
	if len(in.Grown.Facets) == len(in.Nominal.Facets) {
		maps[Allowance] = in.Allowance
	}
	var measured [len(region.Skins)][numLayers]float64 // area
	for f := range in.Nominal.Facets {
		a := in.Nominal.FacetArea(f)
		if in.Keep != nil && in.Keep[f] != NotKept {
			s.kept[in.Keep[f]] += a
			continue
		}
		k := in.Skins[f]
		s.areas[k].areaMM2 += a
		for l, m := range maps {
			if m == nil {
				continue
			}
			if v := m.At(f, 1./3, 1./3, 1./3); !math.IsNaN(v) {
				s.areas[k].mean[l] += a * times[l] * v
				measured[k][l] += a
			}
		}
	}
	for k := range s.areas {
		for l, a := range measured[k] {
			s.areas[k].mean[l] /= a // NaN where nothing was measured
		}
	}
	s.figures[Allowance] = figuresOf(in.Grown, in.Allowance, 1000)
	s.scales[Allowance] = render.NewScale(render.Viridis, 0, niceTop(s.figures[Allowance].most))
	if in.Deviation != nil {
		s.figures[Deviation] = figuresOf(in.Nominal, in.Deviation, 1000)
		s.scales[Deviation] = deviationScale(in.Nominal, in.Deviation)
	}
	if in.FinishedRa != nil {
		s.figures[FinishedRa] = figuresOf(in.Nominal, in.FinishedRa, 1)
		s.scales[FinishedRa] = render.NewScale(render.Cividis, 0, niceTop(s.figures[FinishedRa].most))
	}
	if in.Exposure != nil {
		s.figures[Exposure] = figuresOf(in.Nominal, in.Exposure, 1)
		s.scales[Exposure] = render.NewScale(render.Viridis, 0, niceTop(s.figures[Exposure].most))
	}
	if in.FinishOff != nil {
		s.figures[Finish] = figuresOf(in.Nominal, in.FinishOff, 1000)
		s.scales[Finish] = deviationScale(in.Nominal, in.FinishOff)
	}
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
