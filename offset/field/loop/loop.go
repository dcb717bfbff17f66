package loop

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sort"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/offset/field"
)

// Grow moves the surface of m outwards so that facet f has stockMM[f] of stock
// and returns the new vertices.
type Grow func(ctx context.Context, m *mesh.Mesh, stockMM []float64) ([]r3.Vector, error)

// Options of Run.
type Options struct {
	// RemovalMM is the depth D the bath takes where the factor is 1, mm.
	RemovalMM float64

	// Field are the options of every solution; its strip is set to the removal where it is 0.
	Field field.Options

	// Grow is the rule that adds stock; nil takes Shift.
	Grow Grow

	// Refine cuts the facets to the size of the panels first: coarse faces cannot carry a local stock.
	Refine bool

	// MostMM bounds the stock of a facet, for the printer's sake; 0 means 4 times the removal.
	MostMM float64

	// Rounds bounds the corrections; 0 means 5.
	Rounds int

	// Steps divides the removal, the field being found anew for each; 0 means 1.
	// Removal that is not small against the part's curves wants 3 to 5.
	Steps int

	Progress func(done float64) // may be nil
}

// Deviation of a predicted finished surface from nominal, mm, positive where metal is left.
type Deviation struct {
	RMS, P95, Max         float64 // of the size, over the area away from sharp edges
	EdgeP95, EdgeMax      float64 // of what is missing beside sharp edges
	MeanRadius, MaxRadius float64 // predicted radius of sharp edges, from what their corners lose, mm
}

// Result of Run.
type Result struct {
	Nominal  *mesh.Mesh  // the part, refined where that was asked for: its Source names the part's facets
	StockMM  []float64   // per facet of Nominal
	Grown    *mesh.Mesh  // Nominal with its stock
	Finished *mesh.Mesh  // as predicted after the bath
	Signed   []float64   // deviation of Finished from Nominal per facet, mm, positive where metal is left
	Uniform  Deviation   // what the same stock everywhere would have given
	History  []Deviation // after each correction; the best is the result
	Best     int         // index in History
	Capped   int         // facets whose stock met MostMM
	Field    *field.Result
}

// Run grows m, predicts what the bath leaves, and corrects the stock until the deviation stops falling.
func Run(ctx context.Context, m *mesh.Mesh, opt Options) (*Result, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	if opt.Refine {
		var err error
		if m, err = field.Refine(ctx, m, opt.Field); err != nil {
			return nil, err
		}
	}
	j := newJudge(m, opt.RemovalMM, opt.Field.Workers)
	r := &Result{Nominal: m}
	stock := make([]float64, len(m.Facets))
	for f := range stock {
		stock[f] = opt.RemovalMM
	}
	var c corrections
	for round := 0; round <= opt.Rounds; round++ {
		t, err := try(ctx, m, stock, &opt)
		if err != nil {
			return nil, fmt.Errorf("round %d: %w", round, err)
		}
		if opt.Progress != nil {
			opt.Progress(float64(round+1) / float64(opt.Rounds+1))
		}
		d, signed := j.judge(t.finished)
		if round == 0 {
			r.Uniform = d
		} else {
			r.History = append(r.History, d)
		}
		n := len(r.History)
		best := n > 0 && d.P95 < r.History[r.Best].P95 || n <= 1
		if best {
			r.Best = max(0, n-1)
			r.StockMM = append(r.StockMM[:0], stock...)
			r.Grown, r.Finished, r.Signed, r.Field = t.grown, t.finished, signed, t.field
		}
		if n > 1 && r.History[n-1].P95 > 0.9*r.History[n-2].P95 {
			break // it has stopped falling
		}
		c.correct(stock, even(m, j.around, signed), opt.MostMM)
	}
	for _, s := range r.StockMM {
		if s >= opt.MostMM {
			r.Capped++
		}
	}
	return r, nil
}

// corrections remembers what each facet was corrected for.
type corrections struct {
	last []float64 // what was left over, mm
	gain []float64
}

// settling is the share of its last deviation to which a facet has to come down,
// or its corrections are halved: the stock of a sliver may hardly move the
// surface, and would run away.
const settling = 0.7

// correct takes what is left over on a facet off its stock, within 0 and most.
func (c *corrections) correct(stock, left []float64, most float64) {
	first := c.last == nil
	if first {
		c.gain = make([]float64, len(left))
		for f := range c.gain {
			c.gain[f] = 1
		}
	}
	for f, e := range left {
		if !first && math.Abs(e) > settling*math.Abs(c.last[f]) {
			c.gain[f] /= 2
		}
		stock[f] = math.Max(0, math.Min(most, stock[f]-c.gain[f]*e))
	}
	c.last = left
}

func (o *Options) fill() error {
	if !(o.RemovalMM > 0) {
		return errors.New("loop: the removal must be above 0 mm")
	}
	if o.Grow == nil {
		o.Grow = func(_ context.Context, m *mesh.Mesh, stock []float64) ([]r3.Vector, error) {
			return Shift(m, stock), nil
		}
	}
	if o.MostMM <= 0 {
		o.MostMM = 4 * o.RemovalMM
	}
	if o.Rounds <= 0 {
		o.Rounds = 5
	}
	if o.Steps <= 0 {
		o.Steps = 1
	}
	if o.Field.StripMM == 0 {
		o.Field.StripMM = o.RemovalMM
	}
	return nil
}

// attempt is one prediction.
type attempt struct {
	grown, finished *mesh.Mesh
	field           *field.Result
}

// try grows the part and lets the bath take its removal, in steps.
func try(ctx context.Context, m *mesh.Mesh, stock []float64, opt *Options) (*attempt, error) {
	v, err := opt.Grow(ctx, m, stock)
	if err != nil {
		return nil, err
	}
	t := &attempt{grown: m.WithVertices(v)}
	t.finished = t.grown
	for step := range opt.Steps {
		r, err := field.Solve(ctx, t.finished, opt.Field)
		if err != nil {
			return nil, err
		}
		if step == 0 {
			t.field = r
		}
		t.finished = Finish(m, t.finished, r, opt.RemovalMM/float64(opt.Steps))
	}
	return t, nil
}

// Finish returns the surface now, a state of nominal with its facets, after the
// bath took removalMM where the factor is 1. Depths go along the normals of
// nominal: those of a grown surface say little where facets ran into each other,
// and elsewhere differ by the slope of the stock, whose square is what is lost.
// The factor is averaged over the facets around each first, twice and never
// across a sharp edge: on rough facets it scatters with the panels.
func Finish(nominal, now *mesh.Mesh, r *field.Result, removalMM float64) *mesh.Mesh {
	in := nominal.Incidence()
	depth := even(nominal, in, even(nominal, in, r.PerFacet))
	for f := range depth {
		depth[f] *= -removalMM
	}
	moved := Shift(nominal, depth)
	for v := range moved {
		moved[v] = now.Vertices[v].Add(moved[v].Sub(nominal.Vertices[v]))
	}
	return now.WithVertices(moved)
}

// sharpFrom is the turn from which an edge that juts out is sharp.
const sharpFrom = 40 * s1.Degree

// judge measures finished surfaces against nominal.
type judge struct {
	m      *mesh.Mesh
	tree   *bvh.Tree
	around *mesh.Incidence
	beside []bool // facets within reach of a sharp edge
	edge   []int32
	bisect []float64 // per edge vertex: 1/sin(half the metal's angle) - 1
}

// newJudge marks what lies within three removals of sharp edges.
func newJudge(m *mesh.Mesh, removal float64, workers int) *judge {
	j := &judge{m: m, tree: bvh.New(m, workers), around: m.Incidence(), beside: make([]bool, len(m.Facets))}
	t := m.Topology()
	cos := math.Cos(sharpFrom.Radians())
	turn := make([]float64, len(m.Vertices)) // least cosine at the vertex
	edges := &mesh.Mesh{Vertices: m.Vertices}
	for v := range turn {
		turn[v] = 1
	}
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		a, b := m.FacetNormal(h/3), m.FacetNormal(int(g/3))
		c := a.Dot(b)
		if a == (r3.Vector{}) || b == (r3.Vector{}) || c >= cos {
			continue
		}
		o, e := m.Origin(int32(h)), m.Target(int32(h))
		edges.Facets = append(edges.Facets, [3]int32{o, e, e})
		if m.Vertices[m.Origin(mesh.Prev(g))].Sub(m.Vertices[o]).Dot(a) < 0 {
			turn[o], turn[e] = math.Min(turn[o], c), math.Min(turn[e], c)
		}
	}
	for v, c := range turn {
		if c < 1 {
			j.edge = append(j.edge, int32(v))
			j.bisect = append(j.bisect, 1/math.Sqrt((1+c)/2)-1)
		}
	}
	if len(edges.Facets) == 0 {
		return j
	}
	et := bvh.New(edges, workers)
	for f := range j.beside {
		a, b, c := m.Triangle(f)
		_, j.beside[f] = et.ClosestWithin(a.Add(b).Add(c).Mul(1./3), 3*removal, bvh.NoHint)
	}
	return j
}

// judge returns the deviation of a finished surface and its signed size per facet.
func (j *judge) judge(fin *mesh.Mesh) (Deviation, []float64) {
	signed := make([]float64, len(fin.Facets))
	var d Deviation
	var away, near []weighted
	var squares, area float64
	hint := bvh.NoHint
	for f := range signed {
		a, b, c := fin.Triangle(f)
		p := a.Add(b).Add(c).Mul(1. / 3)
		// The size is the distance to nominal, or to this facet's own plane when that is nearer: moved
		// along an inner corner, a facet is not out of place.
		h := j.tree.Closest(p, hint)
		hint = h.Facet
		n := j.m.FacetNormal(f)
		x, _, _ := j.m.Triangle(f)
		signed[f] = p.Sub(x).Dot(n)
		size := math.Min(h.Dist, math.Abs(signed[f]))
		if n == (r3.Vector{}) {
			signed[f], size = 0, h.Dist
		}
		w := weighted{size, j.m.FacetArea(f)}
		if j.beside[f] {
			near = append(near, w)
			continue
		}
		away = append(away, w)
		squares += w.area * size * size
		area += w.area
	}
	if area > 0 {
		d.RMS = math.Sqrt(squares / area)
	}
	d.P95, d.Max = quantile(away, 0.95)
	d.EdgeP95, d.EdgeMax = quantile(near, 0.95)
	j.radii(fin, &d)
	return d, signed
}

// radii turns what a corner lost beyond its faces into the radius of a round
// edge that ends there: r (1/sin(half angle) - 1) is a round edge's loss along
// the bisector.
func (j *judge) radii(fin *mesh.Mesh, d *Deviation) {
	var sum float64
	for i, v := range j.edge {
		loss := fin.Vertices[v].Sub(j.m.Vertices[v]).Norm()
		if h := j.tree.Closest(fin.Vertices[v], bvh.NoHint); h.Dist < 1e-3*loss {
			loss = 0 // moved along its own edge
		}
		r := loss / j.bisect[i]
		sum += r
		d.MaxRadius = math.Max(d.MaxRadius, r)
	}
	if len(j.edge) > 0 {
		d.MeanRadius = sum / float64(len(j.edge))
	}
}

type weighted struct{ size, area float64 }

// quantile returns the size that the share of the area stays below, and the largest.
func quantile(ws []weighted, share float64) (at, most float64) {
	if len(ws) == 0 {
		return 0, 0
	}
	sort.Slice(ws, func(i, k int) bool {
		return ws[i].size < ws[k].size || ws[i].size == ws[k].size && ws[i].area < ws[k].area
	})
	var whole, sum float64
	for _, w := range ws {
		whole += w.area
	}
	at = ws[len(ws)-1].size
	for _, w := range ws {
		if sum += w.area; sum >= share*whole {
			at = w.size
			break
		}
	}
	return at, ws[len(ws)-1].size
}
