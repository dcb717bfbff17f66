package verify

import (
	"cmp"
	"context"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// outside is what the samples on the grown surface say: its vertices, and more
// samples on its large facets, against the nominal surface.
type outside struct {
	m        *mesh.Mesh
	plan     *plan
	dry      []bool
	vertexOf []int32 // corner at which each vertex is measured
	start    []int32 // first facet of each group, and the end of the last
	groups   []outsideGroup
	foot     []int32   // nominal facet nearest to each vertex as it was last measured, -1 for none
	called   []float64 // the least called for there
}

// groupSize is of how many numbers the facets are measured again together.
const groupSize = 64

// outsideGroup sums up the facets of a group.
type outsideGroup struct {
	reach   Worst
	samples int
	lacks   []Lack // at vertices and at places spread by area
	edges   []Lack // along edges

	spots     []spot // near to edges of the group
	spotLacks []Lack // there
	whole     bool   // all of it is measured
}

// Lack is a place of the grown surface that stands too near to the nominal one. Lengths are mm.
type Lack struct {
	Facet int       // of the grown surface
	K     int       // number of the corner that it is, -1 for a place inside the facet
	Out   r3.Vector // unit, away from the nominal surface
	By    float64   // how much further it would have to stand
	Foot  int       // facet of the nominal surface that it is nearest to
	At    r3.Vector // the place of that facet
	Above r3.Vector // the place of the grown surface
}

// Lacks returns what is short seen from the grown surface, group by group of its facets:
// at places, along edges, and the spots below those, each in the order of the facets.
func (w *Watch) Lacks() []Lack { return w.r.lacks() }

func (r *run) lacks() []Lack {
	var all []Lack
	if o := r.fromOutside; o != nil {
		for i := range o.groups {
			w := &o.groups[i]
			all = append(append(append(all, w.lacks...), w.edges...), w.spotLacks...)
		}
	}
	return all
}

// clearSteps bounds the steps of Clear: each cuts what lacks before two faces by
// the cosine between them, squared.
const clearSteps = 16

// Clear returns the place near y, a point of a grown surface, that stands as far
// from the nominal surface as the nominal places nearest to it call for: it
// steps straight away from the nearest one until nothing lacks. Between two
// faces that is the place which clears both; when there is none near, it returns
// the last place tried.
func (w *Watch) Clear(y r3.Vector) r3.Vector {
	r := w.r
	r.nominalTree()
	s := &grownSamples{run: r, signs: r.around.Signs(r.near)}
	hint := bvh.NoHint
	for range clearSteps {
		h := r.around.Closest(y, hint)
		d := s.signs.Sure(y, h, false)
		lack := r.lack(y, h, d)
		if lack <= Resolution {
			break
		}
		y, hint = y.Add(s.awayFrom(y, h, d).Mul(lack)), h.Facet
	}
	return y
}

// fromGrown measures the grown surface after a change: the groups with a facet
// that moved or is new. Vertices of facets that were there before keep what they were
// nearest to.
func (r *run) fromGrown(ctx context.Context, c *change) error {
	c.spread(r.grown, r.workers)
	r.nominalTree()
	var done []bool
	if c.moved == nil {
		before := r.fromOutside
		r.fromOutside = newOutside(r)
		if before != nil {
			done = r.fromOutside.takeOver(before, c, r.workers)
		}
	}
	o := r.fromOutside
	groups := mesh.Which(len(o.groups), r.workers, func(g int) bool {
		return (done == nil || !done[g]) && (c.moved == nil || c.near(r.grown, int(o.start[g]), int(o.start[g+1])))
	})
	if len(groups)*widenShare > len(o.groups) {
		r.around.Widen(r.workers)
		defer r.around.Narrow()
	}
	if r.ridges == nil {
		r.ridges, r.uneven = ridges(r.nominal, r.near, r.wanted, r.workers)
		r.besideStep = besideSteps(r.nominal, r.uneven, r.workers)
	}
	s := &grownSamples{run: r, outside: o, signs: r.around.Signs(r.near), change: c, corners: r.tree.Incidence()}
	each := func(n int, do func(i int) error) error {
		return mesh.Spread(ctx, n, 16, r.opt.Workers, func(_, lo, hi int) error {
			for ; lo < hi; lo++ {
				if err := do(lo); err != nil {
					return err
				}
			}
			return ctx.Err()
		})
	}
	if err := each(len(groups), func(i int) error { return s.group(ctx, int(groups[i])) }); err != nil {
		return err
	}
	// Edges ask what their ends are nearest to: now all of them know.
	if err := each(len(groups), func(i int) error { s.valleys(int(groups[i])); return nil }); err != nil {
		return err
	}
	return each(len(o.groups), func(g int) error { s.onSpots(&o.groups[g]); return nil })
}

// widenShare is of how many groups one must be measured for the nominal tree to be widened for them.
const widenShare = 16

// newOutside plans the samples on the grown surface.
func newOutside(r *run) *outside {
	m := r.grown
	p := planFor(m, r.opt.Samples)
	o := &outside{m: m, plan: p, dry: r.dry, vertexOf: firstUse(r.tree.Incidence(), r.workers), foot: none(len(m.Vertices)), called: make([]float64, len(m.Vertices))}
	end := len(m.Facets)
	o.start = make([]int32, 0, end/groupSize+2)
	for f := range end {
		for numberOf(r.numbers, f, end) >= groupSize*len(o.start) {
			o.start = append(o.start, int32(f))
		}
	}
	o.groups = make([]outsideGroup, len(o.start))
	o.start = append(o.start, int32(end))
	return o
}

// takeOver takes over what was measured before of the groups in which nothing
// changed, which it marks, and the feet of vertices.
func (o *outside) takeOver(before *outside, c *change, workers int) (done []bool) {
	for v, w := range c.same {
		if w >= 0 {
			o.foot[v], o.called[v] = before.foot[w], before.called[w]
		}
	}
	done = make([]bool, len(o.groups))
	mesh.InChunks(min(len(done), len(before.groups)), workers, func(lo, hi int) {
		for g := lo; g < hi; g++ {
			from, was := o.start[g], before.start[g]
			done[g] = o.start[g+1]-from == before.start[g+1]-was
			for f := from; done[g] && f < o.start[g+1]; f++ {
				done[g] = c.kept[f] == was+f-from && o.asks(before, int(f), int(was+f-from))
			}
			done[g] = done[g] && !c.near(o.m, int(from), int(o.start[g+1]))
			if done[g] {
				o.groups[g] = before.groups[g].shifted(int(from - was))
			}
		}
	})
	return done
}

// asks tells whether facet f is measured in the same places as facet e was before, which has the same corners.
func (o *outside) asks(before *outside, f, e int) bool {
	n, _ := o.plan.of(f)
	m, _ := before.plan.of(e)
	same := n == m && (o.dry != nil && o.dry[f]) == (before.dry != nil && before.dry[e])
	for k := range 3 {
		same = same && o.uses(3*f+k) == before.uses(3*e+k)
	}
	return same
}

// uses tells whether a vertex is measured at the corner.
func (o *outside) uses(corner int) bool {
	return o.vertexOf[o.m.Facets[corner/3][corner%3]] == int32(corner)
}

// shifted returns what the group says with other numbers of facets.
func (g *outsideGroup) shifted(by int) outsideGroup {
	out := *g
	if out.reach.Facet >= 0 {
		out.reach.Facet += by
	}
	out.lacks, out.edges = slices.Clone(g.lacks), slices.Clone(g.edges)
	for _, l := range [][]Lack{out.lacks, out.edges} {
		for i := range l {
			l[i].Facet += by
		}
	}
	out.spots, out.spotLacks = slices.Clone(g.spots), nil // measured again
	for i := range out.spots {
		out.spots[i].fold += int32(by)
	}
	return out
}

// firstUse returns the first corner that uses each vertex.
func firstUse(in *mesh.Incidence, workers int) []int32 {
	first := make([]int32, len(in.Start)-1)
	mesh.InChunks(len(first), workers, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			if corners := in.Of(int32(v)); len(corners) > 0 {
				first[v] = corners[0]
			}
		}
	})
	return first
}

// grownSamples measures groups.
type grownSamples struct {
	*run
	*outside
	signs   *bvh.Signs
	change  *change
	corners *mesh.Incidence // of the grown surface
}

// group measures the facets of group g that a change can have altered.
func (s *grownSamples) group(ctx context.Context, g int) error {
	m, w := s.grown, &s.groups[g]
	s.forget(w)
	for f := int(s.start[g]); f < int(s.start[g+1]); f++ {
		if !s.again(w, f) {
			continue
		}
		n, _ := s.outside.plan.of(f)
		if n > 1024 && ctx.Err() != nil {
			return ctx.Err()
		}
		for k, v := range m.Facets[f] {
			if s.vertexOf[v] == int32(3*f+k) {
				y := m.Vertices[v]
				var h bvh.Hit
				if s.change.moved == nil && s.foot[v] >= 0 { // the feet known hold
					h = s.around.On(int(s.foot[v]), y)
				} else {
					h = s.around.Closest(y, s.below(f))
				}
				s.foot[v] = int32(h.Facet)
				s.called[v], _ = s.meeting(h)
				s.measure(w, f, k, y, h)
			}
		}
		for i := 0; n > 1 && i < n; i++ {
			p, _ := s.outside.plan.at(f, i)
			y := p.of(m.Triangle(f))
			s.measure(w, f, -1, y, s.around.Closest(y, s.below(f)))
		}
	}
	return nil
}

// again tells whether facet f, of group w, is measured.
func (s *grownSamples) again(w *outsideGroup, f int) bool {
	return (s.dry == nil || !s.dry[f]) && (w.whole || s.change.near(s.grown, f, f+1))
}

// forget drops what group w says of facets that are measured again: of all where
// facets were exchanged, and where the farthest place is on one of them.
func (s *grownSamples) forget(w *outsideGroup) {
	f := w.reach.Facet
	w.whole = s.change.moved == nil || f < 0 || s.change.near(s.grown, f, f+1)
	if w.whole {
		*w = outsideGroup{reach: Worst{Facet: -1}, whole: true, lacks: w.lacks[:0], edges: w.edges[:0], spots: w.spots[:0], spotLacks: w.spotLacks[:0]}
		return
	}
	gone := func(l Lack) bool { return s.again(w, l.Facet) }
	w.lacks, w.edges = slices.DeleteFunc(w.lacks, gone), slices.DeleteFunc(w.edges, gone)
	w.spots = slices.DeleteFunc(w.spots, func(e spot) bool { return s.again(w, int(e.fold)) })
}

// arrange puts what group w says into the order of facets.
func (w *outsideGroup) arrange() {
	byFacet := func(a, b Lack) int { return cmp.Compare(a.Facet, b.Facet) }
	slices.SortStableFunc(w.lacks, byFacet)
	slices.SortStableFunc(w.edges, byFacet)
	slices.SortStableFunc(w.spots, func(a, b spot) int { return cmp.Compare(a.fold, b.fold) })
}

// measure takes the place y of facet f, corner k of it or -1; h is the nominal place nearest to it.
func (s *grownSamples) measure(w *outsideGroup, f, k int, y r3.Vector, h bvh.Hit) {
	d := s.place(&w.lacks, f, k, y, h)
	if w.whole { // else they keep their number
		w.samples++
	}
	if d > w.reach.Value { // else it cannot exceed
		_, most := s.meeting(h)
		w.reach.take(d-most, f, func() r3.Vector { return y })
	}
}

// place takes what lacks at the place y into lacks and returns how far from the nominal surface it stands.
func (s *grownSamples) place(lacks *[]Lack, f, k int, y r3.Vector, h bvh.Hit) float64 {
	d := s.signs.Sure(y, h, false)
	if lack := s.lack(y, h, d); lack > Resolution {
		*lacks = append(*lacks, Lack{Facet: f, K: k, Out: s.awayFrom(y, h, d), By: lack, Foot: h.Facet, At: h.Point, Above: y})
	}
	return d
}

// awayFrom is the direction from the nominal surface to y, which stands at the distance d from it.
func (s *grownSamples) awayFrom(y r3.Vector, h bvh.Hit, d float64) r3.Vector {
	if d < Resolution {
		return s.signs.Normal(h).Normalize()
	}
	return y.Sub(h.Point).Mul(1 / d)
}
