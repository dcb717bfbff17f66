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
// crossings; beside facets of no area, or where shells overlap, ask
// Tree.Winding.
type Signs struct {
	t      *Tree
	topo   *mesh.Topology
	corner []r3.Vector // angle-weighted normal of each vertex of the mesh, any length
}

// Signs prepares the pseudonormals. The topology must be that of the tree's
// mesh; nil computes it.
func (t *Tree) Signs(topo *mesh.Topology) *Signs {
	if topo == nil {
		topo = t.m.Topology()
	}
	s := &Signs{t: t, topo: topo, corner: make([]r3.Vector, len(t.m.Vertices))}
	for f, w := range t.m.Facets {
		n := t.m.FacetNormal(f)
		for k, v := range w {
			e1, e2 := t.m.Corner(f, (k+1)%3).Sub(t.m.Vertices[v]), t.m.Corner(f, (k+2)%3).Sub(t.m.Vertices[v])
			angle := math.Atan2(e1.Cross(e2).Norm(), e1.Dot(e2))
			s.corner[v] = s.corner[v].Add(n.Mul(angle))
		}
	}
	return s
}

// Normal returns the pseudonormal at a hit; its length means nothing.
func (s *Signs) Normal(h Hit) r3.Vector {
	m := s.t.m
	switch h.Feature {
	case Corner:
		return s.corner[m.Facets[h.Facet][h.K]]
	case Edge:
		n := m.FacetNormal(h.Facet)
		if twin := s.topo.Twin[3*h.Facet+h.K]; twin != mesh.None {
			n = n.Add(m.FacetNormal(int(twin / 3)))
		}
		return n
	}
	return m.AreaNormal(h.Facet)
}

// Distance returns the signed distance of p from the surface at the hit
// nearest to it: positive outside the metal, negative inside, in mm.
func (s *Signs) Distance(p r3.Vector, h Hit) float64 {
	if p.Sub(h.Point).Dot(s.Normal(h)) < 0 {
		return -h.Dist
	}
	return h.Dist
}

// Closest returns the hit nearest to p and its signed distance.
func (s *Signs) Closest(p r3.Vector, hint int) (Hit, float64) {
	h := s.t.Closest(p, hint)
	if h.Facet < 0 {
		return h, h.Dist
	}
	return h, s.Distance(p, h)
}
