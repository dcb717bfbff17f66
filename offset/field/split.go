package field

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// splitFrom is the edge length, over the wanted size, from which an edge is halved: halves then
// lie between 0.7 and 1.4 of it.
const splitFrom = 1.4

// cut is the part's surface with facets halved until no edge is longer than wanted.
type cut struct {
	mesh.Mesh
	parent []int32   // facet of the part
	size   []float64 // wanted size at each vertex
}

// refine halves edges, all facets around an edge alike, so that the surface
// stays closed; every facet lies in the plane of its parent.
func refine(ctx context.Context, m *mesh.Mesh, s *sizing, most int) (*cut, error) {
	c := &cut{Mesh: mesh.Mesh{
		Vertices: append([]r3.Vector(nil), m.Vertices...),
		Facets:   append([][3]int32(nil), m.Facets...),
	}}
	c.parent = make([]int32, len(m.Facets))
	c.size = make([]float64, len(m.Vertices))
	normals := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		c.parent[f] = int32(f)
		for _, v := range t {
			normals[v] = normals[v].Add(m.AreaNormal(f))
		}
	}
	for v, n := range normals {
		if v&1023 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		c.size[v] = s.at(m.Vertices[v], n.Normalize())
	}
	for len(c.Facets) < most {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if !c.pass(s) {
			break
		}
	}
	return c, nil
}

// pass halves every edge that is too long, once; it tells whether there was one.
func (c *cut) pass(s *sizing) bool {
	t := c.Topology()
	mid := make([]int32, len(t.Twin)) // new vertex on each half-edge, or None
	any := false
	for h := range mid {
		mid[h] = mesh.None
	}
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		i, j := c.Origin(int32(h)), c.Target(int32(h))
		a, b := c.Vertices[i], c.Vertices[j]
		l := b.Sub(a).Norm()
		if s.room == nil && l <= splitFrom*(max(c.size[i], c.size[j])-edgeSlope*l/2) || l <= splitFrom*s.least {
			continue // the size cannot fall far enough in between
		}
		p := a.Add(b).Mul(0.5)
		n := c.AreaNormal(h / 3).Add(c.AreaNormal(int(g) / 3)).Normalize()
		size := s.at(p, n)
		if l <= splitFrom*size {
			continue
		}
		mid[h], mid[g] = int32(len(c.Vertices)), int32(len(c.Vertices))
		c.Vertices = append(c.Vertices, p)
		c.size = append(c.size, size)
		any = true
	}
	if any {
		c.divide(mid)
	}
	return any
}

// divide replaces each facet by the two, three or four that its new vertices make of it.
func (c *cut) divide(mid []int32) {
	var facets [][3]int32
	var parent []int32
	for f, t := range c.Facets {
		add := func(a, b, d int32) {
			facets = append(facets, [3]int32{a, b, d})
			parent = append(parent, c.parent[f])
		}
		m := mid[3*f : 3*f+3]
		n := 0
		for _, v := range m {
			if v != mesh.None {
				n++
			}
		}
		k := 0 // turn the facet so that the templates fit
		switch n {
		case 1:
			for m[k] == mesh.None {
				k++
			}
		case 2: // the whole edge comes last
			for m[(k+2)%3] != mesh.None {
				k++
			}
		}
		a, b, d := t[k], t[(k+1)%3], t[(k+2)%3]
		ab, bd, da := m[k], m[(k+1)%3], m[(k+2)%3]
		switch n {
		case 0:
			add(a, b, d)
		case 1:
			add(a, ab, d)
			add(ab, b, d)
		case 2:
			add(ab, b, bd)
			// The quadrangle a ab bd d by its shorter diagonal.
			if c.Vertices[a].Sub(c.Vertices[bd]).Norm2() <= c.Vertices[ab].Sub(c.Vertices[d]).Norm2() {
				add(a, ab, bd)
				add(a, bd, d)
			} else {
				add(a, ab, d)
				add(ab, bd, d)
			}
		case 3:
			add(a, ab, da)
			add(ab, b, bd)
			add(bd, d, da)
			add(ab, bd, da)
		}
	}
	c.Facets, c.parent = facets, parent
}
