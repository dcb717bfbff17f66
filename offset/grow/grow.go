package grow

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// Defaults of Options, used for fields that are zero.
const (
	DefaultMaxSlope     = 0.15
	DefaultMitreLimit   = 4.0 // a wedge of 29 degrees; the tetrahedron's corner needs 3
	DefaultFeatureAngle = 40 * s1.Degree
)

// ErrAllowance is returned for an allowance that is negative or not finite.
var ErrAllowance = errors.New("an allowance must be zero or more")

// Options says how the surface moves.
type Options struct {
	// MaxSlope is the steepest fall of the allowance over the smooth surface, mm a mm.
	MaxSlope float64

	// MitreLimit is the longest move of a vertex as a multiple of the largest
	// allowance around it, at least 1.
	MitreLimit float64

	// Whole leaves every vertex whole, however sharp its point, so that the
	// facets stay those of the nominal mesh.
	Whole bool

	// LastUse lets the pairs of the topology go once the allowance has spread.
	LastUse bool

	// FeatureAngle is the angle between the normals of two neighbouring facets
	// above which their edge is sharp: allowances do not spread across it.
	FeatureAngle s1.Angle

	// Keep marks facets that must not leave their planes, whatever their
	// allowance; nil when there are none. len = facets.
	Keep []bool

	// Held appends to dirs the directions across which a vertex of kept facet
	// f must not move, and returns them; where it appends none, the normal of f
	// counts. Small facets of a rough mesh stand at any angle to the face they are
	// part of. nil takes the normals of f and of the kept facets beside it.
	Held func(f int, dirs []r3.Vector) []r3.Vector

	// Limit returns the allowance that there is room for, given the one that is
	// called for after the slope rule, mm; it may lower values and keeps to the
	// slope itself. Nil when there is room everywhere.
	Limit func(ctx context.Context, wanted mesh.CornerField) (mesh.CornerField, error)

	// Given is the allowance as Field returns it for the same part and options, which
	// Grow takes over and changes; nil has it worked out.
	Given mesh.CornerField

	// Tree is a tree over the mesh; nil has one built where it is needed.
	Tree *bvh.Tree

	// Around lists the corners around every vertex of the mesh; nil has that done where it is needed.
	Around *mesh.Incidence

	// Workers is the number of goroutines; 0 for one a processor.
	Workers int
}

// Needle is a vertex that could not move as far as its facets ask.
type Needle struct {
	Vertex    int32
	At        r3.Vector // mm, on the nominal surface
	MissingMM float64   // stock missing on the worst facet around it
	AskedMM   float64   // allowance of that facet there
	Kept      bool      // true when a kept face holds the vertex, false when the mitre was too long
	Split     bool      // the stock is there on Result.Surface, on which the vertex is split
}

// Result is a grown surface.
type Result struct {
	Vertices  []r3.Vector      // mm, in the order of the input's
	Allowance mesh.CornerField // mm, after the slope rule and what there is room for
	Needles   []Needle         // by vertex number
	Yielded   int              // vertices of kept facets whose other facets got less stock, since they have nowhere to go

	// Crossings are those of the nominal facets on Vertices, with the coordinates
	// rounded to those of a file; nil when they were not looked for.
	Crossings *bvh.Crossings

	// Surface is the grown surface where its facets are not the nominal ones
	// alone; nil when they are: then it is the nominal facets on Vertices.
	Surface *Surface
}

// Whole returns what growing with Options.Whole gives.
func (r *Result) Whole() *Result {
	w := *r
	w.Surface, w.Needles = nil, slices.Clone(r.Needles)
	for i := range w.Needles {
		w.Needles[i].Split = false
	}
	return &w
}

// Grow returns the vertices of m moved outwards so that facet f has
// allowanceMM[f] of stock, and the allowance after the slope rule and the limit. topo is the
// topology of m; len(allowanceMM) is the number of facets. A vertex around
// which every allowance is zero keeps its coordinates bit for bit. The result
// is the same for any number of workers.
func Grow(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, allowanceMM []float64, opt Options) (*Result, error) {
	in := make(chan *mesh.Incidence, 1)
	go func() { in <- opt.around(m) }() // spreading does without it
	g, _, field, err := start(ctx, m, topo, allowanceMM, opt)
	if err != nil {
		return nil, err
	}
	g.in = <-in
	if opt.LastUse && opt.Keep == nil {
		topo.Twin = nil
		runtime.GC() // the moved vertices take the room of the pairs
	}
	r := &Result{Vertices: make([]r3.Vector, len(m.Vertices)), Allowance: field}
	y := g.newYielder(field)
	if err := y.yield(ctx); err != nil {
		return nil, err
	}
	if err := g.moveAll(ctx, r); err != nil {
		return nil, err
	}
	if err := g.untangle(ctx, r); err != nil {
		return nil, err
	}
	if err := g.tilt(ctx, r); err != nil {
		return nil, err
	}
	if err := y.clear(ctx, r); err != nil {
		return nil, err
	}
	if !g.opt.Whole {
		merged, err := g.merge(ctx, r)
		if err != nil {
			return nil, err
		}
		if err := g.bevel(ctx, r, merged); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// Field returns the allowance that Grow would give the facets' corners, mm: by
// the slope rule, and what there is room for of that. It is linear on a facet,
// so it is as fine as the facets are.
func Field(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, allowanceMM []float64, opt Options) (wanted, given mesh.CornerField, err error) {
	_, wanted, given, err = start(ctx, m, topo, allowanceMM, opt)
	return wanted, given, err
}

// start checks the input and works out the allowance, by the slope rule and
// after the limit.
func start(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, allowanceMM []float64, opt Options) (g *grower, wanted, given mesh.CornerField, err error) {
	if err := opt.complete(m); err != nil {
		return nil, nil, nil, err
	}
	if err := checkAllowance(m, allowanceMM); err != nil {
		return nil, nil, nil, err
	}
	g = newGrower(m, topo, opt)
	if opt.Given != nil {
		return g, nil, opt.Given, nil
	}
	if wanted, err = g.spread(ctx, allowanceMM); err != nil {
		return nil, nil, nil, err
	}
	given = wanted
	if opt.Limit != nil {
		given, err = opt.Limit(ctx, wanted)
	}
	return g, wanted, given, err
}

// grower carries what the steps share.
type grower struct {
	m     *mesh.Mesh
	topo  *mesh.Topology
	in    *mesh.Incidence
	opt   Options
	sharp float64 // cosine of the feature angle
	flat  float64 // mm: facets that are no higher have no normal

	leaning, sloped []int32 // vertices, by moveAll: see moves
}

func newGrower(m *mesh.Mesh, topo *mesh.Topology, opt Options) *grower {
	return &grower{m: m, topo: topo, opt: opt, sharp: math.Cos(opt.FeatureAngle.Radians()), flat: flatBelow(m)}
}

// normal returns the unit normal of facet f, zero where it means nothing.
func (g *grower) normal(f int32) r3.Vector {
	p, q, r := g.m.Triangle(int(f))
	u, v := q.Sub(p), r.Sub(p)
	n := u.Cross(v)
	u2, v2, n2 := u.Norm2(), v.Norm2(), n.Norm2()
	l := math.Sqrt(n2)
	// The longest side is at most |u|+|v|, so its square at most 2 (u2+v2): nearly all facets pass by that.
	if !(n2 > 3*g.flat*g.flat*(u2+v2)) && !(l > g.flat*math.Sqrt(max(u2, v2, r.Sub(q).Norm2()))) {
		return r3.Vector{}
	}
	return n.Mul(1 / l)
}

// complete fills in defaults and tells what is wrong.
func (o *Options) complete(m *mesh.Mesh) error {
	if o.MaxSlope == 0 {
		o.MaxSlope = DefaultMaxSlope
	}
	if o.MitreLimit == 0 {
		o.MitreLimit = DefaultMitreLimit
	}
	if o.FeatureAngle == 0 {
		o.FeatureAngle = DefaultFeatureAngle
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case !(o.MaxSlope > 0):
		return fmt.Errorf("max slope %g: give a number above 0", o.MaxSlope)
	case !(o.MitreLimit >= 1):
		return fmt.Errorf("mitre limit %g: give 1 or more", o.MitreLimit)
	case !(o.FeatureAngle > 0 && o.FeatureAngle <= 180*s1.Degree):
		return fmt.Errorf("feature angle %.3g degrees: give an angle above 0 and up to 180", o.FeatureAngle.Degrees())
	case o.Keep != nil && len(o.Keep) != len(m.Facets):
		return fmt.Errorf("%d keep marks for %d facets", len(o.Keep), len(m.Facets))
	}
	return nil
}

// around returns the corners around every vertex of m, which the tree may know.
func (o *Options) around(m *mesh.Mesh) *mesh.Incidence {
	switch {
	case o.Around != nil:
		return o.Around
	case o.Tree != nil:
		return o.Tree.Incidence()
	}
	return m.Incidence()
}

// checkAllowance tells which allowance cannot be.
func checkAllowance(m *mesh.Mesh, a []float64) error {
	if len(a) != len(m.Facets) {
		return fmt.Errorf("%d allowances for %d facets", len(a), len(m.Facets))
	}
	for f, x := range a {
		if !(x >= 0) || math.IsInf(x, 0) {
			return fmt.Errorf("facet %d: allowance %g mm: %w", f, x, ErrAllowance)
		}
	}
	return nil
}

// noiseBits says how flat a facet may be before its normal means nothing: a
// facet lower than 2^-noiseBits of the largest coordinate lies within the
// rounding of single-precision corners (2^-24 each, two corners in doubt).
const noiseBits = 23

// flatBelow returns the height in mm below which a facet of m has no normal.
func flatBelow(m *mesh.Mesh) float64 {
	lo, hi := m.Bounds()
	lo, hi = lo.Abs(), hi.Abs()
	return math.Ldexp(max(lo.X, lo.Y, lo.Z, hi.X, hi.Y, hi.Z), -noiseBits)
}

// chunk is how many items a worker takes at a time.
const chunk = 4096

// parallel is mesh.Spread for work that does not fail.
func (g *grower) parallel(ctx context.Context, n, chunk int, f func(lo, hi int)) error {
	return mesh.Spread(ctx, n, chunk, g.opt.Workers, func(_, lo, hi int) error {
		f(lo, hi)
		return nil
	})
}
