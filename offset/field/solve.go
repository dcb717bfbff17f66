package field

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Options of Solve. The zero value is the primary distribution in an endless
// bath with the default budget of panels.
type Options struct {
	// PolarisationMM is the length L of the linear polarisation, mm: 0 for the
	// primary distribution. Wagner number = L / size of the part.
	PolarisationMM float64

	// Insulated marks facets that take no current, as under a mask; nil means none.
	// They get factor 0, and the mean is taken over the others.
	Insulated []bool

	// Walls are the cathode plates and the vessel; none means the far field is
	// at infinity.
	Walls []Wall

	// MaxPanels bounds the number of panels on the part; 0 means 30000.
	MaxPanels int

	// AsMeshed makes every facet a panel, cut and gathered in no way.
	AsMeshed bool

	// StripMM is the depth of removal over which the flux beside a sharp edge
	// is averaged, mm; 0 keeps the mean of the panels at the edge.
	StripMM float64

	// Brief leaves the evidence out, Balance and ErrorEstimate, and Factor 0 but at sharp
	// edges: for solutions of which PerFacet is wanted.
	Brief bool

	// Tolerance is the relative residual at which the linear solver stops; 0 means 1e-6.
	Tolerance float64

	// Degree of the expansions of the fast sums; 0 means 12, good for about six digits.
	Degree int

	Workers  int                // 0 means one for each processor
	Progress func(done float64) // called with a share of the work done, from one goroutine; may be nil
}

// Wall is a surface in the bath that is no part of the anode: a cathode plate, a
// vessel, the free surface of the bath. Its normals point into the electrolyte.
// The part's metal is at 1.
type Wall struct {
	Mesh      *mesh.Mesh
	Potential float64
	Insulated bool // no current flows through it; Potential then means nothing
}

// Result is the field on a part.
type Result struct {
	// Factor is the local factor f per vertex: flux over the mean flux of the
	// part. Its mean over the area is about 1.
	Factor []float64

	// PerFacet is the same per facet, the mean over each facet. Its mean over
	// the area is 1, but for what the decay law changes: no flux is lost between
	// panels and facets. A brief solution gives facets of no area 0.
	PerFacet []float64

	// MeanFlux is the mean flux at potential 1 over what is not insulated, in 1/mm;
	// the flux of a place is its factor times this. With a polarisation the upper limit is 1/L.
	MeanFlux float64

	// CapacitanceMM is the total flux over 4 pi, mm.
	CapacitanceMM float64

	// Deep marks the facets with a place whose flux comes from the decay law of
	// holes and slots, because it is below 0.2 % of the mean; DeepAreaMM2 is the area of those places.
	// There the factor is right in its order, not in its digits.
	Deep        []bool
	DeepAreaMM2 float64

	Insulated []bool // per facet, as the options say; nil for none

	Panels      int
	WallPanels  int
	Iterations  int
	Residual    float64 // of the linear solver, relative
	NearEntries int     // kept near entries, four bytes each

	Balance Balance

	// ErrorEstimate is the expected error of the local factor, mean over the
	// area, from Balance, never below what the fast sums and the linear solver
	// leave. At a sharp edge no point has a factor; the share of the area beside
	// edges that panels do not resolve is in it.
	ErrorEstimate float64
}

// ErrOpen tells that the surface has an open border: it has no outside.
var ErrOpen = errors.New("surface is not closed")

func (o *Options) fill() error {
	if !(o.PolarisationMM >= 0) {
		return fmt.Errorf("field: polarisation length of %v mm: must not be negative", o.PolarisationMM)
	}
	if o.MaxPanels <= 0 {
		o.MaxPanels = 30000
	}
	if o.Tolerance <= 0 {
		o.Tolerance = 1e-6
	}
	if o.Degree <= 0 {
		o.Degree = 12
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	return nil
}

// Solve computes the field around the closed surface m.
//
// Facets are taken in the bath's view: surfaces of closed cavities come out
// with factor 0, since no current reaches them.
func Solve(ctx context.Context, m *mesh.Mesh, opt Options) (*Result, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	if err := checkClosed(m); err != nil {
		return nil, err
	}
	if n := len(opt.Insulated); n > 0 && n != len(m.Facets) {
		return nil, fmt.Errorf("field: %d marks of insulation for %d facets", n, len(m.Facets))
	}
	if len(opt.Insulated) > 0 && !slices.Contains(opt.Insulated, false) {
		return nil, errors.New("field: every facet is insulated: nothing takes current")
	}
	sf, err := newPanels(ctx, m, &opt)
	if err != nil {
		return nil, err
	}
	ps := sf.panels()
	scale := math.Sqrt(m.Area())
	for i := range ps {
		ps[i].length, ps[i].goal = opt.PolarisationMM, 1
		if sf.shut[ps[i].patch] {
			ps[i].charge, ps[i].length = 0, scale
		}
	}
	parts := len(ps)
	for k, w := range opt.Walls {
		ps = append(ps, wallPanels(w, int32(k), scale)...)
	}
	s := &system{ps: ps}
	if err := s.solve(ctx, &opt); err != nil {
		return nil, err
	}
	r, err := s.result(ctx, sf, m, &opt)
	if err != nil {
		return nil, err
	}
	r.Panels, r.WallPanels = parts, len(ps)-parts
	if !opt.Brief {
		b, err := s.balance(ctx)
		if err != nil {
			return nil, err
		}
		b.Variation = r.Balance.Variation
		r.Balance = b
		r.ErrorEstimate = max(math.Hypot(b.Flux, b.Variation), 1e-5)
	}
	if opt.Progress != nil {
		opt.Progress(1)
	}
	return r, nil
}

func checkClosed(m *mesh.Mesh) error {
	if len(m.Facets) == 0 {
		return errors.New("field: the part has no facets")
	}
	if t := m.Topology(); !t.Closed() {
		return fmt.Errorf("field: %w: %d open, %d non-manifold, %d wrongly wound edges; mend it first", ErrOpen, t.OpenEdges, t.NonManifoldEdges, t.WrongWayEdges)
	}
	for i, v := range m.Vertices {
		if d := v.Sub(v); d != (r3.Vector{}) {
			return fmt.Errorf("field: vertex %d is not a number", i)
		}
	}
	return nil
}

// wallPanels makes every facet of a wall a panel; scale is that of the unknown of insulated ones, mm.
func wallPanels(w Wall, k int32, scale float64) []panel {
	var ps []panel
	for f := range w.Mesh.Facets {
		a, b, c := w.Mesh.Triangle(f)
		if p, ok := newPanel([]piece{{a, b, c, -1}}); ok {
			p.wall, p.goal = k, w.Potential
			if w.Insulated {
				p.charge, p.length, p.goal = 0, scale, 0
			}
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
		progress(0.3 + 0.6*(1-1/(1+float64(k)/15)))
	})
	if err != nil {
		return err
	}
	s.q, s.iterations = q, len(history)
	s.residual = history[len(history)-1]
	// Leaves the expansions of the solution behind, for the balance.
	return op.apply(ctx, q, make([]float64, len(q)))
}

// result carries the flux back to the facets and vertices of m.
func (s *system) result(ctx context.Context, sf *surface, m *mesh.Mesh, opt *Options) (*Result, error) {
	r := &Result{Iterations: s.iterations, Residual: s.residual, NearEntries: s.op.kept, Insulated: opt.Insulated}
	q := make([]float64, sf.n)
	var total, whole float64
	for i := range s.ps {
		if p := &s.ps[i]; p.wall < 0 && p.charge > 0 {
			q[p.patch] = s.q[i]
			total += s.q[i] * p.area
			whole += p.area
		}
	}
	r.CapacitanceMM = total * invFourPi
	r.MeanFlux = total / whole
	deep, err := sf.deepen(ctx, q, r.MeanFlux, opt.PolarisationMM, newRooms(m, opt.Workers))
	if err != nil {
		return nil, err
	}
	fits := sf.fit(q)
	flux, area := sf.facets(fits, len(m.Facets))
	r.Factor = scaled(sf.vertices(fits, len(m.Vertices), opt.StripMM, opt.Brief), 1/r.MeanFlux)
	if !opt.Brief {
		r.Balance.Variation = sf.variation(fits) / r.MeanFlux
	}
	r.PerFacet = make([]float64, len(m.Facets))
	for f, t := range m.Facets {
		switch {
		case area[f] > 0:
			r.PerFacet[f] = flux[f] / area[f] / r.MeanFlux
		case !opt.Brief: // no area: as its corners
			r.PerFacet[f] = (r.Factor[t[0]] + r.Factor[t[1]] + r.Factor[t[2]]) / 3
		}
	}
	r.Deep = make([]bool, len(m.Facets))
	for f, p := range sf.patch {
		if p != mesh.None && deep[p] {
			r.Deep[sf.c.parent[f]] = true
			r.DeepAreaMM2 += sf.c.FacetArea(f)
		}
	}
	return r, nil
}
