package verify

import (
	"cmp"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/disjoint"
)

// places gathers the facets short of stock by more than the tolerance into
// patches that hang together by their corners: short by their own samples, or by
// a place of the grown surface that stands too near to them. It returns the
// worst of them and the number of all.
func (r *run) places() ([]Place, int) {
	m := r.nominal
	tol := r.opt.ToleranceMM
	patch := disjoint.Sparse{} // of vertices
	lacks := r.lacksByFoot()
	short := mesh.Which(len(m.Facets), r.workers, func(f int) bool { return r.shortOf(f, lacks).Shortfall > tol })
	for _, f := range short {
		w := m.Facets[f]
		for _, v := range w[1:] {
			patch.Join(w[0], v)
		}
	}
	var out []Place
	number := make(map[int32]int)
	for _, f := range short {
		f := int(f)
		root := patch.Find(m.Facets[f][0])
		i, ok := number[root]
		if !ok {
			i = len(out)
			number[root] = i
			out = append(out, Place{})
		}
		worst := r.shortOf(f, lacks)
		if worst.Shortfall > out[i].Shortfall {
			out[i].At, out[i].Facet, out[i].Shortfall, out[i].FromGrown = worst.At, f, worst.Shortfall, worst.FromGrown
		}
		out[i].Facets++
		out[i].Area += m.FacetArea(f)
	}
	slices.SortStableFunc(out, func(a, b Place) int { return -cmp.Compare(a.Shortfall, b.Shortfall) })
	return out[:min(len(out), r.opt.MaxPlaces)], len(out)
}

// lacksByFoot returns the greatest lack over every nominal facet that the
// grown surface stands too near to; it is only looked up.
func (r *run) lacksByFoot() map[int]Lack {
	worst := make(map[int]Lack)
	for _, l := range r.lacks() {
		if l.By > worst[l.Foot].By {
			worst[l.Foot] = l
		}
	}
	return worst
}

// shortOf returns the worst shortfall among a facet's samples, its corners and the lacks over it.
func (r *run) shortOf(f int, lacks map[int]Lack) Place {
	m := r.nominal
	var p Place
	first := int(r.plan.start[f])
	n, _ := r.plan.of(f)
	for i := range n {
		if s := -r.dev[first+i]; s > p.Shortfall {
			at, _ := r.plan.at(f, i)
			p.Shortfall, p.At = s, at.of(m.Triangle(f))
		}
	}
	for _, v := range m.Facets[f] {
		if s := -r.vertexDev[v]; s > p.Shortfall {
			p.Shortfall, p.At = s, r3.Vector(m.Vertices[v])
		}
	}
	if l := lacks[f]; l.By > p.Shortfall+Resolution { // the same lack seen from both sides is the nominal one's
		p.Shortfall, p.At, p.FromGrown = l.By, l.At, true
	}
	return p
}
