package bvh

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Signs tell inside from outside at the nearest place of a surface, by the
// angle-weighted pseudonormal of the face, edge or corner the place lies on
// (Baerentzen and Aanaes, "Signed distance computation using the angle
// weighted pseudonormal", IEEE Transactions on Visualization and Computer
// Graphics 11, 2005). The sign is right for a closed surface without
// crossings; beside facets of hardly any area, or where shells overlap, ask
// Tree.Winding.
type Signs struct {
	t  *Tree
	in *mesh.Incidence
}

// Signs prepares for the question. The incidence must be that of the tree's mesh; nil takes the tree's own.
func (t *Tree) Signs(in *mesh.Incidence) *Signs {
	if in == nil {
		in = t.Incidence()
	}
	return &Signs{t: t, in: in}
}

// Normal returns the pseudonormal at a hit; its length means nothing.
func (s *Signs) Normal(h Hit) r3.Vector {
	m := s.t.m
	if h.Feature == Face {
		return m.AreaNormal(h.Facet)
	}
	v := m.Facets[h.Facet][h.K]
	end := m.Facets[h.Facet][(h.K+1)%3]
	var n r3.Vector
	for _, c := range s.in.Of(v) {
		f, k := int(c/3), int(c%3)
		if h.Feature == Edge {
			if w := m.Facets[f]; w[(k+1)%3] == end || w[(k+2)%3] == end {
				n = n.Add(m.FacetNormal(f))
			}
			continue
		}
		e1, e2 := m.Corner(f, (k+1)%3).Sub(m.Vertices[v]), m.Corner(f, (k+2)%3).Sub(m.Vertices[v])
		cross := e1.Cross(e2)
		if l := cross.Norm(); l > 0 {
			n = n.Add(cross.Mul(math.Atan2(l, e1.Dot(e2)) / l))
		}
	}
	return n
}

// Distance returns the signed distance of p from the surface at the hit
// nearest to it: positive outside the metal, negative inside, in mm.
func (s *Signs) Distance(p r3.Vector, h Hit) float64 {
	if p.Sub(h.Point).Dot(s.Normal(h)) < 0 {
		return -h.Dist
	}
	return h.Dist
}

// Sure returns the signed distance like Distance, and where the pseudonormal
// does not clearly point along the way to p, or the sign is not that
// expected, asks Tree.Winding. The surface must be closed.
func (s *Signs) Sure(p r3.Vector, h Hit, expectInside bool) float64 {
	w, n := p.Sub(h.Point), s.Normal(h)
	along := w.Dot(n)
	if math.Abs(along) < 0.5*h.Dist*n.Norm() || (along < 0) != expectInside {
		if s.t.Inside(p) {
			return -h.Dist
		}
		return h.Dist
	}
	return math.Copysign(h.Dist, along)
}

// Closest returns the hit nearest to p and its signed distance.
func (s *Signs) Closest(p r3.Vector, hint int) (Hit, float64) {
	h := s.t.Closest(p, hint)
	if h.Facet < 0 {
		return h, h.Dist
	}
	return h, s.Distance(p, h)
}
