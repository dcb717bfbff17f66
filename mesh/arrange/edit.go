package arrange

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// editor changes a surface in single steps that can be taken back, and keeps
// the tree's boxes wide enough.
type editor struct {
	s    *surface
	t    *tree
	undo []change
	bad  map[int32]bool // facets in a contact, as far as known
	cs   []contact
}

// change is an overwritten value: of a facet, a twin or a vertex place.
type change struct {
	what  uint8
	index int32
	facet [3]int32
	twin  int32
	at    r3.Vector
}

func (e *editor) setFacet(f int32, t [3]int32) {
	e.undo = append(e.undo, change{what: 0, index: f, facet: e.s.facets[f]})
	e.s.facets[f] = t
}

func (e *editor) setTwin(h, t int32) {
	e.undo = append(e.undo, change{what: 1, index: h, twin: e.s.twin[h]})
	e.s.twin[h] = t
}

func (e *editor) setAt(v int32, p r3.Vector) {
	e.undo = append(e.undo, change{what: 2, index: v, at: e.s.at[v]})
	e.s.at[v] = p
}

// revert takes back all changes since the last commit.
func (e *editor) revert() {
	for i := len(e.undo) - 1; i >= 0; i-- {
		switch c := e.undo[i]; c.what {
		case 0:
			e.s.facets[c.index] = c.facet
		case 1:
			e.s.twin[c.index] = c.twin
		default:
			e.s.at[c.index] = c.at
		}
	}
	e.undo = e.undo[:0]
}

func (e *editor) commit() { e.undo = e.undo[:0] }

// star returns the facets around the origin of h.
func (e *editor) star(h int32) []int32 {
	var fs []int32
	e.s.fan(h, func(g int32) { fs = append(fs, g/3) })
	return fs
}

// canCollapse is the link condition: the two ends of the edge have exactly the
// two corners beside it as common neighbours.
func (e *editor) canCollapse(h int32) bool {
	s := e.s
	if s.locked(s.target(h)) {
		return false
	}
	var near []int32
	s.fan(h, func(g int32) { near = append(near, s.target(g)) })
	w, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(s.twin[h]))
	if w == x || len(near) < 3 {
		return false
	}
	common, n := 0, 0
	s.fan(s.twin[h], func(g int32) {
		n++
		if slices.Contains(near, s.target(g)) {
			common++
		}
	})
	return common == 2 && n >= 3 && !(len(near) == 3 && n == 3)
}

// collapse moves the origin of h into its target; the facets on both sides of h vanish.
func (e *editor) collapse(h int32) {
	s := e.s
	v := s.target(h)
	var around []int32
	s.fan(h, func(g int32) { around = append(around, g) })
	for _, side := range [2]int32{h, s.twin[h]} {
		a, b := s.twin[mesh.Next(side)], s.twin[mesh.Prev(side)]
		e.setTwin(a, b)
		e.setTwin(b, a)
	}
	dead := [2]int32{h / 3, s.twin[h] / 3}
	for _, g := range around {
		f := g / 3
		t := s.facets[f]
		t[g%3] = v
		if f == dead[0] || f == dead[1] {
			t = [3]int32{mesh.None, mesh.None, mesh.None}
		}
		e.setFacet(f, t)
	}
}

// canFlip tells whether the other diagonal over the edge is no edge yet.
func (e *editor) canFlip(h int32) bool {
	s := e.s
	w, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(s.twin[h]))
	if w == x || s.locked(w) || s.locked(s.origin(h)) || s.locked(s.target(h)) {
		return false
	}
	ok := true
	s.fan(mesh.Prev(h), func(g int32) { ok = ok && s.target(g) != x })
	// Both ends keep three facets or more.
	for _, g := range [2]int32{h, s.twin[h]} {
		n := 0
		s.fan(g, func(int32) { n++ })
		ok = ok && n > 3
	}
	return ok
}

// flip turns the edge of h, u-v with corners w and x beside it, into w-x.
func (e *editor) flip(h int32) {
	s := e.s
	t := s.twin[h]
	u, v := s.origin(h), s.target(h)
	w, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(t))
	vw, wu := s.twin[mesh.Next(h)], s.twin[mesh.Prev(h)]
	ux, xv := s.twin[mesh.Next(t)], s.twin[mesh.Prev(t)]
	f, g := h/3, t/3
	// f becomes u, x, w and g becomes x, v, w.
	e.setFacet(f, [3]int32{u, x, w})
	e.setFacet(g, [3]int32{x, v, w})
	for _, p := range [5][2]int32{{3 * f, ux}, {3*f + 1, 3*g + 2}, {3*f + 2, wu}, {3 * g, xv}, {3*g + 1, vw}} {
		e.setTwin(p[0], p[1])
		e.setTwin(p[1], p[0])
	}
}

// count returns how many contacts the facets have, each at most limit.
func (e *editor) count(fs []int32, limit int) int {
	var cs []contact
	for _, f := range fs {
		cs = e.t.facetContacts(cs, f, nil)
		if len(cs) > 4*limit+16 {
			break
		}
	}
	return len(sortContacts(cs))
}

// height returns the least height of facet f in mm.
func (s *surface) height(f int32) float64 {
	a, b, c := s.corners(f)
	long := max(b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2())
	if long == 0 {
		return 0
	}
	return s.areaNormal(f).Norm() / math.Sqrt(long)
}
