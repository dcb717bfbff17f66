package limit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/bvh/room"
	"skinstock/mesh/sample"
)

// Defaults of Options.
const (
	DefaultMaxSlope     = 0.15
	DefaultFeatureAngle = 40 * s1.Degree
	DefaultFacingAngle  = 120 * s1.Degree
)

// ErrInput is wrapped by the errors for a field or an option that makes no sense.
var ErrInput = errors.New("cannot limit the allowance")

// Options say what must stay open. Lengths are mm.
type Options struct {
	MinGap       float64  // must stay open between surfaces that face each other; 0 only keeps them from meeting
	MaxSlope     float64  // steepest rise of the lowered allowance over the smooth surface, mm a mm; 0 takes DefaultMaxSlope
	FeatureAngle s1.Angle // an edge whose facets' normals differ by more is sharp; 0 takes DefaultFeatureAngle
	FacingAngle  s1.Angle // surfaces face each other when their normals differ by more; 0 takes DefaultFacingAngle
	Workers      int      // goroutines; 0 takes GOMAXPROCS

	// CapMM is the most that a facet may get for another reason, mm, infinite where there is none; nil for no caps. len = facets.
	CapMM []float64

	// Tree returns a tree over the mesh, which is asked for only where facets have something opposite; nil has one built there.
	Tree func() *bvh.Tree
	// Clear are facets known to have nothing opposite, as an earlier Result says; nil when nothing is known.
	Clear *Clear
}

// Place is a patch of facets, hanging together by their corners, that lack stock.
type Place struct {
	At      r3.Vector // corner that lacks most
	Facet   int       // there
	Wanted  float64   // stock wanted there, mm
	Missing float64   // stock missing there, mm
	Gap     float64   // nominal gap at the narrowest of the patch, mm
	Facets  int
	Area    float64 // mm2
}

// Result is the allowance that fits. Lengths are mm.
type Result struct {
	Field    mesh.CornerField // never above what was wanted
	Places   []Place          // where more than Tolerance is missing, most first
	LeastGap float64          // narrowest gap between surfaces in question, infinite when there is none
	Lowered  int              // facets with a lowered corner
	Clear    *Clear           // facets that had nothing opposite
}

// Tolerance is the missing stock in mm below which a facet makes no place.
const Tolerance = 0.001

// Gaps returns the wanted allowance, in mm at every facet's corners, lowered
// so that MinGap stays open where surfaces face each other. topo belongs to m;
// nil computes it. The result is the same for any number of workers.
func Gaps(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, wanted mesh.CornerField, opt Options) (*Result, error) {
	most, err := check(m, wanted, &opt)
	if err != nil {
		return nil, err
	}
	r := &Result{Field: append(mesh.CornerField(nil), wanted...), LeastGap: math.Inf(1)}
	if most == 0 {
		return r, nil
	}
	if topo == nil {
		topo = m.Topology()
	}
	if opt.Tree == nil {
		opt.Tree = func() *bvh.Tree { return bvh.New(m, opt.Workers) }
	}
	l := &limiter{
		m: m, topo: topo, wanted: wanted, opt: opt, most: 2*most + opt.MinGap,
		shells: sync.OnceValue(func() []int32 { s, _ := m.ShellLabels(topo); return s }),
	}
	if r.Clear, err = l.measure(ctx); err != nil {
		return nil, err
	}
	if low := l.lower(r); len(low) > 0 {
		l.smooth(r.Field, low)
		l.report(r)
	}
	return r, nil
}

func check(m *mesh.Mesh, wanted mesh.CornerField, opt *Options) (most float64, err error) {
	if len(wanted) != len(m.Facets) {
		return 0, fmt.Errorf("%w: allowances for %d facets, the mesh has %d", ErrInput, len(wanted), len(m.Facets))
	}
	for f, w := range wanted {
		for _, a := range w {
			if !(a >= 0) || math.IsInf(a, 0) {
				return 0, fmt.Errorf("%w: facet %d calls for %v mm, it must be zero or more", ErrInput, f, a)
			}
			most = max(most, a)
		}
	}
	if !(opt.MinGap >= 0) || opt.MaxSlope < 0 || math.IsNaN(opt.MaxSlope) {
		return 0, fmt.Errorf("%w: the gap %v mm and the slope %v must be zero or more", ErrInput, opt.MinGap, opt.MaxSlope)
	}
	if opt.CapMM != nil && len(opt.CapMM) != len(m.Facets) {
		return 0, fmt.Errorf("%w: caps for %d facets, the mesh has %d", ErrInput, len(opt.CapMM), len(m.Facets))
	}
	if opt.MaxSlope == 0 {
		opt.MaxSlope = DefaultMaxSlope
	}
	if opt.FeatureAngle == 0 {
		opt.FeatureAngle = DefaultFeatureAngle
	}
	if opt.FacingAngle == 0 {
		opt.FacingAngle = DefaultFacingAngle
	}
	return most, nil
}

// limiter holds what the steps share.
type limiter struct {
	m      *mesh.Mesh
	topo   *mesh.Topology
	wanted mesh.CornerField
	opt    Options
	most   float64     // gaps wider than this need nothing
	gauge  *room.Gauge // nil where all facets are clear
	found  [][]contact // by chunk of facets

	// shells returns the shell of every facet; it is worked out when first asked for.
	shells func() []int32
}

// contact says that the allowance of a facet must not exceed a at a place.
type contact struct {
	facet  int32
	corner int8       // the corner it is at, or -1
	bary   [3]float64 // the place
	a, gap float64
}

// maxSamples bounds the samples on one large facet beside its corners and its centroid.
const maxSamples = 64

// cornerInset keeps the samples at corners on their own facet.
const cornerInset = 1e-3

// measure looks for gaps that are too narrow, from every facet, and returns which have nothing opposite.
func (l *limiter) measure(ctx context.Context) (*Clear, error) {
	clear := l.known()
	if clear != nil && !slices.Contains(clear, false) {
		return &Clear{l.most, clear}, ctx.Err()
	}
	l.gauge = room.New(l.opt.Tree(), room.Options{Blind: l.opt.FacingAngle, Most: l.most, Workers: l.opt.Workers})
	if clear == nil {
		clear = l.gauge.Clears(l.most)
	}
	l.found = make([][]contact, (len(l.m.Facets)+bvh.Chunk-1)/bvh.Chunk)
	err := bvh.InChunks(ctx, len(l.m.Facets), l.opt.Workers, func(lo, hi int) error {
		var out []contact
		w := &walker{m: l.m, topo: l.topo}
		for f := lo; f < hi; f++ {
			if clear[f] = clear[f] || l.gauge.Normal(f) == (r3.Vector{}) || l.clear(f); clear[f] {
				continue
			}
			for k := range 3 {
				b := [3]float64{cornerInset / 3, cornerInset / 3, cornerInset / 3}
				b[k] += 1 - cornerInset
				out = l.look(out, w, f, k, b)
			}
			n := 1 + int(min(l.m.FacetArea(f)/(l.most*l.most), maxSamples))
			for i := range n {
				out = l.look(out, w, f, -1, sample.Inside(i))
			}
		}
		l.found[lo/bvh.Chunk] = out
		return nil
	})
	return &Clear{l.most, clear}, err
}

// look measures the gap in front of a place and notes what it allows on both sides.
func (l *limiter) look(out []contact, w *walker, f, corner int, b [3]float64) []contact {
	d := l.gauge.Front(l.wall(f, b).at, l.gauge.Normal(f))
	if d.Facet < 0 {
		return out
	}
	a, other := at(l.wanted[f], b), at(l.wanted[d.Facet], d.Bary)
	open := max(d.Ball-l.opt.MinGap, 0)
	if a+other <= open {
		return out
	}
	if shell := l.shells(); shell[f] == shell[d.Facet] && w.joined(l.wall(f, b), l.wall(int(d.Facet), d.Bary), d.Ball, l.most) {
		return out
	}
	return append(out,
		contact{int32(f), int8(corner), b, max(open/2, open-other), d.Ball},
		contact{d.Facet, -1, d.Bary, max(open/2, open-a), d.Ball})
}

// wall returns the place of facet f with weights b.
func (l *limiter) wall(f int, b [3]float64) wall {
	p, q, r := l.m.Triangle(f)
	return wall{p.Mul(b[0]).Add(q.Mul(b[1])).Add(r.Mul(b[2])), int32(f), l.gauge.Normal(f)}
}

func at(w [3]float64, b [3]float64) float64 {
	return float64(w[0]*b[0]) + float64(w[1]*b[1]) + float64(w[2]*b[2])
}

// lower applies the contacts and the caps, and returns the corners that were lowered.
func (l *limiter) lower(r *Result) []int32 {
	var low []int32
	set := func(f int32, k int, a float64) {
		now := &r.Field[f][k]
		if a >= *now {
			return
		}
		if *now == l.wanted[f][k] { // the first time
			low = append(low, 3*f+int32(k))
		}
		*now = a
	}
	each := func(do func(c contact)) {
		for _, cs := range l.found {
			for _, c := range cs {
				do(c)
			}
		}
	}
	each(func(c contact) {
		r.LeastGap = min(r.LeastGap, c.gap)
		if c.corner >= 0 {
			set(c.facet, int(c.corner), c.a)
		}
	})
	// Between the corners the field is linear; where it still is too large, all corners come down.
	each(func(c contact) {
		if c.corner < 0 && at(r.Field[c.facet], c.bary) > c.a+1e-6 {
			for k := range 3 {
				set(c.facet, k, c.a)
			}
		}
	})
	for f, c := range l.opt.CapMM {
		for k := range 3 {
			set(int32(f), k, c)
		}
	}
	return low
}
