package refine

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync/atomic"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/divide"
)

// Options say how fine. Lengths are mm.
type Options struct {
	// Allowance returns the allowance by the facets' corners on a mesh whose facet f
	// is a piece of facet parent[f] of the part: what is wanted, and what there is room for.
	Allowance func(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (wanted, given mesh.CornerField, err error)

	Tolerance float64 // a cut must change the allowance by more than this to be made
	Least     float64 // no edge is cut whose halves would be shorter
	Most      int     // facets

	// Work is for how many facets in all the allowance may be worked out, 0 for any
	// number, before the last time that tells what is left: where a try in pieces would take
	// more, those facets go first over which most stock varies or is left out.
	Work int
}

// Result is the refined mesh.
type Result struct {
	Mesh    *mesh.Mesh // the part's own where nothing was cut
	Topo    *mesh.Topology
	Parent  []int32 // facet of the part of each facet
	Rounds  int     // of halving
	Stopped bool    // more cuts were called for than Most and Work let
	LeftMM  float64 // then: by how much at most the allowance is off there
}

// mostRounds bounds the halvings: 2^24 is more than any part asks for.
const mostRounds = 24

// Run refines m for the allowance. topo is m's topology; m is not changed.
func Run(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt Options) (*Result, error) {
	r := &refiner{opt: opt, out: Result{Mesh: m, Topo: topo, Parent: make([]int32, len(m.Facets))}, done: make([]bool, len(m.Facets))}
	for f := range r.out.Parent {
		r.out.Parent[f] = int32(f)
	}
	for range mostRounds {
		more, err := r.round(ctx)
		if err != nil {
			return nil, err
		}
		if !more {
			break
		}
		r.out.Rounds++
	}
	return &r.out, nil
}

type refiner struct {
	opt   Options
	out   Result
	done  []bool // facets that were tried and did not need it
	spent int    // facets for which the allowance was worked out
}

// allowance works out the allowance on m, which is in pieces of the part's facets.
func (r *refiner) allowance(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (wanted, given mesh.CornerField, err error) {
	r.spent += len(m.Facets)
	return r.opt.Allowance(ctx, m, topo, parent)
}

// leave notes that cuts by which the allowance may be off by mm are not made.
func (r *refiner) leave(mm float64) {
	r.out.Stopped, r.out.LeftMM = true, max(r.out.LeftMM, mm)
}

// round tries the facets that may need it in pieces, and cuts those that do.
func (r *refiner) round(ctx context.Context) (more bool, err error) {
	m, topo := r.out.Mesh, r.out.Topo
	if !r.anyLong(m) {
		return false, nil
	}
	wanted, given, err := r.allowance(ctx, m, topo, r.out.Parent)
	if err != nil {
		return false, err
	}
	tried := r.doubtful(m, wanted, given)
	if tried == nil {
		return false, nil
	}
	t := &trial{m: m, field: given, tolerance: r.opt.Tolerance, worth: make([]float64, 3*len(m.Facets)), off: make([]float64, 3*len(m.Facets))}
	if err := r.try(ctx, t, tried); err != nil {
		return false, err
	}
	for f := range m.Facets {
		if tried[3*f] || tried[3*f+1] || tried[3*f+2] {
			r.done[f] = true
		}
	}
	return r.cut(t, tried), nil
}

// anyLong tells whether an edge is long enough to be cut.
func (r *refiner) anyLong(m *mesh.Mesh) bool {
	var any atomic.Bool
	mesh.InChunks(len(m.Facets), 0, func(lo, hi int) {
		for h := 3 * lo; h < 3*hi && !any.Load(); h++ {
			if r.long(m, int32(h)) {
				any.Store(true)
			}
		}
	})
	return any.Load()
}

func (r *refiner) long(m *mesh.Mesh, h int32) bool {
	return m.Vertices[m.Origin(h)].Distance(m.Vertices[m.Target(h)]) >= 2*r.opt.Least
}

// doubtful marks the half-edges to try: all that are long enough, of facets
// over which the allowance varies, not too steeply to gain by it, or is lowered
// for want of room; of these as many as the work left allows. It is nil when there are none.
func (r *refiner) doubtful(m *mesh.Mesh, wanted, given mesh.CornerField) []bool {
	var list []int32
	for f := range m.Facets {
		if r.done[f] || !r.varies(m, f, wanted[f], given[f]) {
			continue
		}
		if h := 3 * int32(f); r.long(m, h) || r.long(m, h+1) || r.long(m, h+2) {
			list = append(list, int32(f))
		}
	}
	list = r.affordable(m, list, func(f int32) float64 { return slices.Max(wanted[f][:]) - slices.Min(given[f][:]) })
	if len(list) == 0 {
		return nil
	}
	marked := make([]bool, 3*len(m.Facets))
	for _, f := range list {
		for h := 3 * f; h < 3*f+3; h++ {
			marked[h] = r.long(m, h)
		}
	}
	return marked
}

// affordable returns the facets of the list that the work left allows to be tried in
// pieces: those where the most stock, by off and area, may be off.
func (r *refiner) affordable(m *mesh.Mesh, list []int32, off func(f int32) float64) []int32 {
	if r.opt.Work == 0 {
		return list
	}
	n := max(0, r.opt.Work-r.spent-len(m.Facets)) / 3 // a facet in four pieces is three more
	if n >= len(list) {
		return list
	}
	slices.SortStableFunc(list, func(f, g int32) int {
		return cmp.Compare(off(g)*m.FacetArea(int(g)), off(f)*m.FacetArea(int(f)))
	})
	for _, f := range list[n:] {
		r.leave(off(f))
	}
	return list[:n]
}

// varies tells whether the allowance may be off from linear on facet f: it
// varies over a length that can be halved, or it is lowered.
func (r *refiner) varies(m *mesh.Mesh, f int, wanted, given [3]float64) bool {
	lowered := false
	for k := range 3 {
		lowered = lowered || given[k] < wanted[k]-r.opt.Tolerance
	}
	if slices.Max(given[:])-slices.Min(given[:]) <= r.opt.Tolerance {
		return lowered
	}
	a, b, c := m.Triangle(f)
	g := gradient(a, b, c, given)
	if g == (r3.Vector{}) {
		return false
	}
	g = g.Normalize()
	x, y, z := a.Dot(g), b.Dot(g), c.Dot(g)
	return max(x, y, z)-min(x, y, z) >= 2*r.opt.Least
}

// gradient returns the gradient of the linear function with given values at
// the corners, zero for a facet without area.
func gradient(a, b, c r3.Vector, v [3]float64) r3.Vector {
	n := b.Sub(a).Cross(c.Sub(a))
	n2 := n.Norm2()
	if n2 == 0 {
		return r3.Vector{}
	}
	s := c.Sub(b).Mul(v[0]).Add(a.Sub(c).Mul(v[1])).Add(b.Sub(a).Mul(v[2]))
	return n.Cross(s).Mul(1 / n2)
}

// trial compares the allowance on pieces with that between the corners.
type trial struct {
	m         *mesh.Mesh
	field     mesh.CornerField
	tolerance float64
	worth     []float64 // per half-edge: by how much its cut changes the allowance, times the facet's area, mm3
	off       []float64 // per half-edge: by how much its cut changes the allowance, mm
}

// try asks for the allowance with the marked edges halved.
func (r *refiner) try(ctx context.Context, t *trial, marked []bool) error {
	fine, mid, parent := divide.Edges(t.m, r.out.Topo, marked)
	whole := make([]int32, len(parent))
	for f, p := range parent {
		whole[f] = r.out.Parent[p]
	}
	_, given, err := r.allowance(ctx, fine, fine.Topology(), whole)
	if err != nil {
		return err
	}
	for f, p := range parent {
		for k, v := range fine.Facets[f] {
			t.compare(int(p), v, given[f][k], mid[3*p:3*p+3])
		}
	}
	return nil
}

// compare takes the value that the pieces of facet f have at vertex v. Where it
// is off in the middle of an edge, that edge is worth a cut; where it is off
// at a corner, all are.
func (t *trial) compare(f int, v int32, value float64, mid []int32) {
	for k := range 3 {
		if mid[k] == v {
			t.judge(f, value-(t.field[f][k]+t.field[f][(k+1)%3])/2, k, k)
			return
		}
	}
	for k := range 3 {
		if t.m.Facets[f][k] == v {
			t.judge(f, value-t.field[f][k], 0, 2)
		}
	}
}

func (t *trial) judge(f int, off float64, from, to int) {
	if off = math.Abs(off); off <= t.tolerance {
		return
	}
	for k := from; k <= to; k++ {
		t.off[3*f+k] = max(t.off[3*f+k], off)
		t.worth[3*f+k] = max(t.worth[3*f+k], off*t.m.FacetArea(f))
	}
}

// cut halves the edges that are worth it, those worth most first where not all
// fit, and tells whether there were any.
func (r *refiner) cut(t *trial, tried []bool) bool {
	var list []int32
	marked := make([]bool, len(tried))
	for h, w := range t.worth {
		if w > 0 && r.long(t.m, int32(h)) {
			list = append(list, int32(h))
			marked[h] = true
		}
	}
	if len(list) == 0 {
		return false
	}
	fine, mid, parent := divide.Edges(t.m, r.out.Topo, marked)
	if len(fine.Facets) > r.opt.Most {
		slices.SortStableFunc(list, func(g, h int32) int {
			switch d := t.worth[g] - t.worth[h]; {
			case d > 0:
				return -1
			case d < 0:
				return 1
			}
			return 0
		})
		// The longest share of the list that fits, by bisection: closing up adds facets that cannot be counted before.
		lo, hi := 0, len(list)
		for hi-lo > 1 {
			n := (lo + hi) / 2
			some := make([]bool, len(tried))
			for _, h := range list[:n] {
				some[h] = true
			}
			if f, i, p := divide.Edges(t.m, r.out.Topo, some); len(f.Facets) <= r.opt.Most {
				lo, fine, mid, parent = n, f, i, p
			} else {
				hi = n
			}
		}
		for _, h := range list[lo:] {
			r.leave(t.off[h])
		}
		if lo == 0 {
			return false
		}
	}
	r.take(fine, mid, parent)
	return !r.out.Stopped
}

// take replaces the mesh by a finer one. Facets that were tried and stayed
// whole are not tried again.
func (r *refiner) take(fine *mesh.Mesh, mid, parent []int32) {
	done, whole := make([]bool, len(parent)), make([]int32, len(parent))
	for f, p := range parent {
		cut := mid[3*p] != mesh.None || mid[3*p+1] != mesh.None || mid[3*p+2] != mesh.None
		done[f], whole[f] = r.done[p] && !cut, r.out.Parent[p]
	}
	r.out.Mesh, r.out.Topo, r.out.Parent, r.done = fine, fine.Topology(), whole, done
}
