package sheet

import (
	"context"
	"errors"
	"fmt"
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
	NominalOf      []int32          // the facet of Nominal to which each of Grown belongs; nil where they are the same
	Topo           *mesh.Topology   // of Nominal, nil to have it found out
	Skins          []region.Skin    // one a facet of Nominal
	Keep           []Keep           // one a facet of Nominal, nil for none
	Allowance      mesh.CornerField // mm, at the facets of Nominal
	BuildDir       r3.Vector

	// What follows may be nil. Values are one a facet of Nominal.
	Deviation  []float64  // mm: proof, positive where stock is too much
	FinishedRa []float64  // um: expected after the bath
	Exposure   []float64  // local current over the mean
	FinishOff  []float64  // mm: predicted finish, positive where metal is left
	Pins       []Pin      // places of the findings
	PinsTitle  string     // heads the list of pins
	PinSkins   bool       // the pins stand on the skins, in place of their letters, and not only on maps
	Finished   *mesh.Mesh // predicted finished surface, for sections
	FinishedBy string     // what the prediction rests on, in a few words
	Spots      []Spot     // places worth a section, most important first
}

// values returns what a layer shows at the facets of Nominal; nil for none, and
// for the layers that are no map over them.
func (in *Input) values(l Layer) []float64 {
	return [numLayers][]float64{Deviation: in.Deviation, FinishedRa: in.FinishedRa, Exposure: in.Exposure, Finish: in.FinishOff}[l]
}

// AllowanceOf returns the allowance at the corners of a facet of Grown, mm: a
// piece of a cut facet shows the mean of the whole.
func (in *Input) AllowanceOf(g int) [3]float64 {
	if in.NominalOf == nil {
		return in.Allowance[g]
	}
	m := mean(in.Allowance[in.NominalOf[g]])
	return [3]float64{m, m, m}
}

// mean is the mean over a facet of what is linear between its corners.
func mean(c [3]float64) float64 { return (c[0] + c[1] + c[2]) / 3 }

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

// ErrInput is wrapped by errors about pictures that cannot be drawn as asked.
var ErrInput = errors.New("pictures cannot be drawn")

// NewStage checks the input and makes it ready.
func NewStage(ctx context.Context, in Input, workers int) (*Stage, error) {
	switch {
	case in.Nominal == nil || in.Grown == nil || len(in.Nominal.Facets) == 0 || len(in.Grown.Facets) == 0:
		return nil, fmt.Errorf("%w: a mesh has no facets", ErrInput)
	case len(in.Skins) != len(in.Nominal.Facets) || (in.Keep != nil && len(in.Keep) != len(in.Skins)):
		return nil, fmt.Errorf("%w: %d skins for %d facets of the nominal part", ErrInput, len(in.Skins), len(in.Nominal.Facets))
	case len(in.Allowance) != len(in.Skins):
		return nil, fmt.Errorf("%w: allowance at %d facets for %d facets of the nominal part", ErrInput, len(in.Allowance), len(in.Skins))
	case in.NominalOf == nil && len(in.Grown.Facets) != len(in.Skins), in.NominalOf != nil && len(in.Grown.Facets) != len(in.NominalOf):
		return nil, fmt.Errorf("%w: it is not known to which of %d facets of the nominal part the %d of the grown part belong",
			ErrInput, len(in.Skins), len(in.Grown.Facets))
	case !(in.BuildDir.Norm() > 0):
		return nil, fmt.Errorf("%w: the build direction has no length", ErrInput)
	}
	for l := range numLayers {
		if v := in.values(l); v != nil && len(v) != len(in.Skins) {
			return nil, fmt.Errorf("%w: %s at %d facets for %d facets of the nominal part", ErrInput, l.Title(), len(v), len(in.Skins))
		}
	}
	s := &Stage{in: in, workers: workers}
	opt := render.ModelOptions{Workers: workers}
	var err error
	if s.nominal, err = render.NewModel(ctx, in.Nominal, in.Topo, opt); err != nil {
		return nil, err
	}
	if in.NominalOf == nil && slices.Equal(in.Grown.Facets, in.Nominal.Facets) {
		// Lines that only the growing brought out would distract from the pair.
		opt.EdgesOf = s.nominal
	}
	if s.grown, err = render.NewModel(ctx, in.Grown, nil, opt); err != nil {
		return nil, err
	}
	for _, v := range Views {
		s.look(v)
	}
	return s, s.measure(ctx)
}

// look places the camera of a view so that both parts are in it.
func (s *Stage) look(v View) {
	c := v.Camera(s.in.BuildDir)
	s.extent[v] = c.Extent(s.in.Nominal.Vertices).Union(c.Extent(s.in.Grown.Vertices))
	s.camera[v] = c.On(s.extent[v])
}
