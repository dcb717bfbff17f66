package arrange

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// surface is the working copy of a mesh: every edge has exactly two half-edges,
// every vertex one fan of facets, every coordinate lies on the grid.
type surface struct {
	at     []r3.Vector
	facets [][3]int32
	twin   []int32 // half-edges 3*f+k as in mesh.Topology

	facet  []int32 // facet of the input mesh each facet is, or is a piece of
	vertex []int32 // vertex of the input mesh, or -1 for one made by a cut
	moved  []bool  // the vertex was nudged away from where the input has it
	name   []int32 // tells vertices apart, doubled ones too, alike in a patch and in the whole: see nudge
	named  int32   // names given

	doubled []int32 // vertices at one place because several fans shared it when link was called

	rest *rest // what lies beyond the open edges; nil for a whole part
}

func (s *surface) corners(f int32) (a, b, c r3.Vector) {
	t := s.facets[f]
	return s.at[t[0]], s.at[t[1]], s.at[t[2]]
}

func (s *surface) origin(h int32) int32 { return s.facets[h/3][h%3] }
func (s *surface) target(h int32) int32 { return s.origin(mesh.Next(h)) }

// edge returns the lesser of a half-edge and its twin, the number of their common edge.
func (s *surface) edge(h int32) int32 { return min(h, s.twin[h]) }

// areaNormal returns the normal of facet f, twice its area long.
func (s *surface) areaNormal(f int32) r3.Vector {
	a, b, c := s.corners(f)
	return b.Sub(a).Cross(c.Sub(a))
}

func (s *surface) bounds() (lo, hi r3.Vector) {
	m := mesh.Mesh{Vertices: s.at}
	return m.Bounds()
}

// largest returns the greatest absolute coordinate.
func (s *surface) largest() float64 {
	lo, hi := s.bounds()
	return max(math.Abs(lo.X), math.Abs(lo.Y), math.Abs(lo.Z), math.Abs(hi.X), math.Abs(hi.Y), math.Abs(hi.Z))
}

// alive tells whether facet f has not been taken out.
func (s *surface) alive(f int32) bool { return s.facets[f][0] >= 0 }
