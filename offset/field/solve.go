package field

import (
	"context"
	"errors"
	"fmt"
	"runtime"

	"skinstock/mesh"
)

// Options of Solve. The zero value is the primary distribution in an endless
// bath with the default budget of panels.
type Options struct {
	// PolarisationMM is the length L of the linear polarisation, mm: 0 for the
	// primary distribution. Wagner number = L / size of the part.
	PolarisationMM float64

	// Walls are the cathode plates and the vessel; none means the far field is
	// at infinity.
	Walls []Wall

	// MaxPanels bounds the number of panels on the part; 0 means 30000.
	MaxPanels int

	// AsMeshed makes every facet a panel, cut and gathered in no way.
	AsMeshed bool

	// StripMM is the depth of removal over which the flux beside a sharp edge
	// is averaged, mm; 0 keeps the mean of each panel.
	StripMM float64

	// Tolerance is the relative residual at which the linear solver stops; 0 means 1e-6.
	Tolerance float64

	// Degree of the expansions of the fast sums; 0 means 10, good for about five digits.
	Degree int

	Workers  int                // 0 means one for each processor
	Progress func(done float64) // called with a share of the work done, from one goroutine; may be nil
}

// Wall is a surface of given potential: a cathode plate or a vessel. The part's metal is at 1.
type Wall struct {
	Mesh      *mesh.Mesh
	Potential float64
}

// Result is the field on a part.
type Result struct {
	// Factor is the local factor f per vertex: flux over the mean flux of the
	// part. Its mean over the area is 1.
	Factor []float64

	// PerFacet is the same per facet, the mean over each facet.
	PerFacet []float64

	// MeanFlux is the part's mean flux at potential 1, in 1/mm; the flux of a
	// place is its factor times this. With a polarisation the upper limit is 1/L.
	MeanFlux float64

	// CapacitanceMM is the total flux over 4 pi, mm.
	CapacitanceMM float64

	Panels        int
	WallPanels    int
	Iterations    int
	Residual      float64 // of the linear solver, relative
	NearEntries   int     // kept near entries, four bytes each
	ErrorEstimate float64 // see Balance; the expected error of the factor, area-weighted, relative
}

// ErrOpen tells that the surface has an open border: it has no outside.
var ErrOpen = errors.New("surface is not closed")

func (o *Options) fill() error {
	if o.PolarisationMM < 0 {
		return fmt.Errorf("polarisation length of %v mm: must not be negative", o.PolarisationMM)
	}
	if o.MaxPanels == 0 {
		o.MaxPanels = 30000
	}
	if o.Tolerance == 0 {
		o.Tolerance = 1e-6
	}
	if o.Degree == 0 {
		o.Degree = 10
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	return nil
}

// Solve computes the field around the closed surface m.
func Solve(ctx context.Context, m *mesh.Mesh, opt Options) (*Result, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	if len(m.Facets) == 0 {
		return nil, errors.New("field: the part has no facets")
	}
	if t := m.Topology(); !t.Closed() {
		return nil, fmt.Errorf("field: %w: %d open, %d non-manifold, %d wrongly wound edges; mend it first", ErrOpen, t.OpenEdges, t.NonManifoldEdges, t.WrongWayEdges)
	}
	ps := asMeshed(m)
	for i := range ps {
		ps[i].length, ps[i].goal = opt.PolarisationMM, 1
	}
	nPart := len(ps)
	for k, w := range opt.Walls {
		for _, p := range asMeshed(w.Mesh) {
			p.wall, p.goal = int32(k), w.Potential
			for i := range p.pieces {
				p.pieces[i].facet = -1
			}
			ps = append(ps, p)
		}
	}
	s := &system{ps: ps}
	if err := s.solve(ctx, &opt); err != nil {
		return nil, err
	}
	r := s.result(m)
	r.Panels, r.WallPanels = nPart, len(ps)-nPart
	return r, nil
}

// asMeshed makes a panel of every facet that has an area.
func asMeshed(m *mesh.Mesh) []panel {
	ps := make([]panel, 0, len(m.Facets))
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		if p, ok := newPanel([]piece{{a, b, c, int32(f)}}); ok {
			ps = append(ps, p)
		}
	}
	return ps
}

// system is the linear system over panels, in the order of its tree.
type system struct {
	ps         []panel
	op         *operator
	q          []float64 // flux per panel
	iterations int
	residual   float64
}

func (s *system) solve(ctx context.Context, opt *Options) error {
	progress := func(v float64) {
		if opt.Progress != nil {
			opt.Progress(v)
		}
	}
	t := newTree(s.ps)
	progress(0.05)
	op, err := newOperator(ctx, s.ps, t, opt.Degree, opt.Workers)
	if err != nil {
		return err
	}
	s.op = op
	progress(0.3)
	pre, err := newBlocks(ctx, op)
	if err != nil {
		return err
	}
	b := make([]float64, len(s.ps))
	for i := range s.ps {
		b[i] = s.ps[i].goal
	}
	q, history, err := gmres(ctx, op.apply, pre.apply, b, opt.Tolerance, 200, func(k int, _ float64) {
		progress(0.3 + 0.65*(1-1/(1+float64(k)/15)))
	})
	if err != nil {
		return err
	}
	s.q, s.iterations = q, len(history)
	s.residual = history[len(history)-1]
	return nil
}

// result carries the flux back to the facets and vertices of m.
func (s *system) result(m *mesh.Mesh) *Result {
	r := &Result{Iterations: s.iterations, Residual: s.residual, NearEntries: s.op.kept}
	flux := make([]float64, len(m.Facets)) // flux through each facet
	area := make([]float64, len(m.Facets))
	var total, whole float64
	for i := range s.ps {
		p := &s.ps[i]
		if p.wall >= 0 {
			continue
		}
		for k := range p.pieces {
			a := p.pieces[k].areaVector().Norm()
			f := p.pieces[k].facet
			flux[f] += s.q[i] * a
			area[f] += a
		}
		total += s.q[i] * p.area
		whole += p.area
	}
	r.CapacitanceMM = total * invFourPi
	r.MeanFlux = total / whole
	r.PerFacet = make([]float64, len(m.Facets))
	for f := range flux {
		if area[f] > 0 {
			r.PerFacet[f] = flux[f] / area[f] / r.MeanFlux
		}
	}
	r.Factor = make([]float64, len(m.Vertices))
	weight := make([]float64, len(m.Vertices))
	for f, t := range m.Facets {
		for _, v := range t {
			r.Factor[v] += flux[f]
			weight[v] += area[f]
		}
	}
	for v := range r.Factor {
		if weight[v] > 0 {
			r.Factor[v] /= weight[v] * r.MeanFlux
		}
	}
	return r
}
