package arrange

import (
	"errors"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// errFar says that facets meet beyond the patch that was looked at.
var errFar = errors.New("facets meet beyond the patch")

// farError is errFar with the facets of the whole mesh that the patch has to hold too.
type farError struct{ facets []int32 }

func (e *farError) Error() string { return errFar.Error() }

func (e *farError) Is(target error) bool { return target == errFar }

// rest is what a surface leaves out of a whole mesh: parts that hang together,
// whose facets meet nothing and stay or go as one.
type rest struct {
	m             *mesh.Mesh // the whole
	part          []int32    // per facet of the whole; -1 for those in the patch
	facet, vertex []int32    // of the whole, that those of the patch are

	edge   map[[2]int32]int32 // the part beyond each open edge, by the vertices of the patch that it runs between
	locked []bool             // vertices of the patch that the rest has too

	middle r3.Vector // of the whole
	groups []box     // around the rest's facets among each rayGroup of the whole

	volume, area []float64 // per part: six times the volume towards middle; the area
	size         []float64 // per part, of its largest facet: twice the area, squared
	largest      []int32   // that facet
	cavity       []bool    // per part: it bounds a hollow of the input
	gone         []bool    // per part
}

// rayGroup is how many facets of the whole share a box.
const rayGroup = 64

func (r *rest) parts() int {
	if r == nil {
		return 0
	}
	return len(r.gone)
}

// locked tells whether the rest has the vertex too: it must stay.
func (s *surface) locked(v int32) bool {
	return s.rest != nil && s.vertex[v] >= 0 && s.rest.locked[s.vertex[v]]
}

// beyond returns the part of the rest beyond half-edge h, -1 for none.
func (s *surface) beyond(h int32) int32 {
	if s.rest == nil {
		return -1
	}
	if p, ok := s.rest.edge[[2]int32{s.vertex[s.origin(h)], s.vertex[s.target(h)]}]; ok {
		return p
	}
	return -1
}

// openEdges counts the open edges with a part of the rest beyond them.
func (s *surface) openEdges() int {
	n := 0
	if s.rest != nil {
		for h, t := range s.twin {
			if t == mesh.None && s.beyond(int32(h)) >= 0 {
				n++
			}
		}
	}
	return n
}

// openFacets lists for each part of the rest the facets beside it.
func (s *surface) openFacets() [][]int32 {
	list := make([][]int32, s.rest.parts())
	if s.rest != nil {
		for h, t := range s.twin {
			if t == mesh.None {
				p := s.beyond(int32(h))
				list[p] = append(list[p], int32(h/3))
			}
		}
	}
	return list
}

// inside tells by its error that a facet of the contacts has a corner that must stay.
func (s *surface) inside(cs []contact) error {
	if s.rest == nil {
		return nil
	}
	return s.free(s.verticesOf(cs, func(contact) bool { return true }))
}

// free tells by its error that one of the vertices must stay.
func (s *surface) free(vs []int32) error {
	var fixed []int32
	for _, v := range vs {
		if s.locked(v) {
			fixed = append(fixed, v)
		}
	}
	if len(fixed) == 0 {
		return nil
	}
	e := &farError{}
	for _, f := range s.around(fixed) {
		e.facets = append(e.facets, s.rest.facet[s.facet[f]])
	}
	return e
}

// ray calls see with every facet of the rest whose box the ray from o along d may meet.
func (r *rest) ray(o, d r3.Vector, see func(f int32)) {
	if r == nil {
		return
	}
	for g := range r.groups {
		if b := &r.groups[g]; b[0] > b[3] || !rayMeets(b, o, d) {
			continue
		}
		for f := g * rayGroup; f < min((g+1)*rayGroup, len(r.part)); f++ {
			if p := r.part[f]; p >= 0 && !r.gone[p] {
				if b := boxOf(r.m, int32(f)); rayMeets(&b, o, d) {
					see(int32(f))
				}
			}
		}
	}
}

func boxOf(m *mesh.Mesh, f int32) box {
	b := emptyBox
	for _, v := range m.Facets[f] {
		b.add(m.Vertices[v])
	}
	return b
}
