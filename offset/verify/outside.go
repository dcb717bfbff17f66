package verify

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// outside is what the samples on the grown surface say: its vertices, and more
// samples on its large facets, against the nominal surface.
type outside struct {
	plan     *plan
	vertexOf []int32 // corner at which each vertex is measured
	groups   []outsideGroup
	foot     []int32 // nominal facet nearest to each vertex as it was last measured, -1 for none
}

// groupSize is the number of facets that are measured again together.
const groupSize = 64

// outsideGroup sums up the facets of a group.
type outsideGroup struct {
	short, reach Worst
	samples      int
	lacks        []Lack
}

// Lack is a place of the grown surface that stands too near to the nominal one. Lengths are mm.
type Lack struct {
	Facet int       // of the grown surface
	K     int       // number of the corner that it is, -1 for a place inside the facet
	Out   r3.Vector // unit, away from the nominal surface
	By    float64   // how much further it would have to stand
	Foot  int       // facet of the nominal surface that it is nearest to
	At    r3.Vector // the place of that facet
}

// Lacks returns what is short seen from the grown surface, in the order of its facets.
func (w *Watch) Lacks() []Lack {
	var all []Lack
	if o := w.r.fromOutside; o != nil {
		for i := range o.groups {
			all = append(all, o.groups[i].lacks...)
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

// fromGrown measures the grown surface after a change: the groups with a moved
// facet, and all when its facets are others. Vertices that lie where one of the
// surface before did keep what they were nearest to.
func (r *run) fromGrown(ctx context.Context, c *change) error {
	m, moved := r.grown, c.moved
	r.nominalTree()
	n := (len(m.Facets) + groupSize - 1) / groupSize
	if moved == nil {
		p := planFor(m, r.opt.Samples)
		p.area = nil // only the numbers of samples count here
		o := &outside{plan: p, vertexOf: firstUse(m), groups: make([]outsideGroup, n), foot: make([]int32, len(m.Vertices))}
		for v := range o.foot {
			o.foot[v] = mesh.None
			if c.same != nil && c.same[v] >= 0 {
				o.foot[v] = r.fromOutside.foot[c.same[v]]
			}
		}
		r.fromOutside = o
		r.around.Widen(r.workers)
		defer r.around.Narrow()
	}
	s := &grownSamples{run: r, outside: r.fromOutside, signs: r.around.Signs(r.near), keep: moved == nil}
	return bvh.InChunks(ctx, len(m.Facets), r.opt.Workers, func(lo, hi int) error {
		hint := bvh.NoHint
		for ; lo < hi; lo += groupSize {
			end := min(lo+groupSize, hi)
			if moved != nil && !anyTrue(moved[lo:end]) {
				continue
			}
			if err := s.group(ctx, lo, end, &hint); err != nil {
				return err
			}
		}
		return nil
	})
}

func anyTrue(b []bool) bool {
	for _, x := range b {
		if x {
			return true
		}
	}
	return false
}

// firstUse returns the first corner that uses each vertex.
func firstUse(m *mesh.Mesh) []int32 {
	first := make([]int32, len(m.Vertices))
	for f := len(m.Facets) - 1; f >= 0; f-- {
		for k := 2; k >= 0; k-- {
			first[m.Facets[f][k]] = int32(3*f + k)
		}
	}
	return first
}

// grownSamples measures groups.
type grownSamples struct {
	*run
	*outside
	signs *bvh.Signs
	keep  bool // the feet known hold
}

// group measures the facets from lo to hi.
func (s *grownSamples) group(ctx context.Context, lo, hi int, hint *int) error {
	m := s.grown
	w := &s.groups[lo/groupSize]
	*w = outsideGroup{lacks: w.lacks[:0]}
	w.short.Facet, w.reach.Facet = -1, -1
	for f := lo; f < hi; f++ {
		if s.dry != nil && s.dry[f] {
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
				if s.keep && s.foot[v] >= 0 {
					h = s.around.On(int(s.foot[v]), y)
				} else {
					h = s.around.Closest(y, *hint)
				}
				*hint, s.foot[v] = h.Facet, int32(h.Facet)
				s.measure(w, f, k, y, h)
			}
		}
		for i := 0; n > 1 && i < n; i++ {
			p, _ := s.outside.plan.at(f, i)
			y := p.of(m.Triangle(f))
			h := s.around.Closest(y, *hint)
			*hint = h.Facet
			s.measure(w, f, -1, y, h)
		}
	}
	return nil
}

// measure takes the place y of facet f; h is the nominal place nearest to it.
func (s *grownSamples) measure(w *outsideGroup, f, k int, y r3.Vector, h bvh.Hit) {
	w.samples++
	at := func() r3.Vector { return y }
	d := s.signs.Sure(y, h, false)
	if lack := s.lack(y, h, d); lack > Resolution {
		w.short.take(lack, f, at)
		w.lacks = append(w.lacks, Lack{Facet: f, K: k, Out: s.awayFrom(y, h, d), By: lack, Foot: h.Facet, At: h.Point})
	}
	if d > w.reach.Value { // else it cannot exceed
		w.reach.take(d-s.greatest(h), f, at)
	}
}

// awayFrom is the direction from the nominal surface to y, which stands at the distance d from it.
func (s *grownSamples) awayFrom(y r3.Vector, h bvh.Hit, d float64) r3.Vector {
	if d < Resolution {
		return s.signs.Normal(h).Normalize()
	}
	return y.Sub(h.Point).Mul(1 / d)
}
