package field

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/divide"
)

// splitFrom is the edge length, over the wanted size, from which an edge is halved: halves then
// lie between 0.7 and 1.4 of it.
const splitFrom = 1.4

// cut is the part's surface with facets halved until no edge is longer than wanted.
type cut struct {
	mesh.Mesh
	parent []int32             // facet of the part
	shut   []bool              // per facet of the part: insulated; nil when none is
	size   []float64           // wanted size at each vertex
	fine   map[uint64]struct{} // edges known to be short enough, by vertices
}

// insulated tells whether facet f belongs to an insulated facet of the part.
func (c *cut) insulated(f int32) bool { return c.shut != nil && c.shut[c.parent[f]] }

// mostPasses bounds the halvings: 2^24 is more than any part asks for.
const mostPasses = 24

func edgeKey(i, j int32) uint64 { return uint64(min(i, j))<<32 | uint64(max(i, j)) }

// refine halves edges, all facets around an edge alike, so that the surface
// stays closed; every facet lies in the plane of its parent.
func refine(ctx context.Context, m *mesh.Mesh, s *sizing, most int) (*cut, error) {
	c := &cut{Mesh: mesh.Mesh{
		Vertices: append([]r3.Vector(nil), m.Vertices...),
		Facets:   append([][3]int32(nil), m.Facets...),
	}}
	c.parent = make([]int32, len(m.Facets))
	normals := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		c.parent[f] = int32(f)
		for _, v := range t {
			normals[v] = normals[v].Add(m.AreaNormal(f))
		}
	}
	ps := make([]place, len(normals))
	for v, n := range normals {
		ps[v] = place{m.Vertices[v], n.Normalize()}
	}
	var err error
	if c.size, err = s.all(ctx, ps); err != nil {
		return nil, err
	}
	c.fine = map[uint64]struct{}{}
	for more, n := true, 0; more && n < mostPasses && len(c.Facets) < most; n++ {
		if more, err = c.pass(ctx, s); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// pass halves every edge that is too long, once; it tells whether there was one.
func (c *cut) pass(ctx context.Context, s *sizing) (bool, error) {
	t := c.Topology()
	var long []int32 // half-edges
	var ps []place
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		i, j := c.Origin(int32(h)), c.Target(int32(h))
		a, b := c.Vertices[i], c.Vertices[j]
		l := b.Sub(a).Norm()
		if l <= splitFrom*math.Min(c.size[i], c.size[j])*0.75 {
			continue // the size hardly falls further in between
		}
		if _, ok := c.fine[edgeKey(i, j)]; ok {
			continue
		}
		n := c.AreaNormal(h / 3).Add(c.AreaNormal(int(g) / 3)).Normalize()
		long = append(long, int32(h))
		ps = append(ps, place{a.Add(b).Mul(0.5), n})
	}
	sizes, err := s.all(ctx, ps)
	if err != nil {
		return false, err
	}
	first := len(c.Vertices)
	mid := make([]int32, len(t.Twin)) // new vertex on each half-edge, or None
	for h := range mid {
		mid[h] = mesh.None
	}
	for k, h := range long {
		o, e := c.Origin(h), c.Target(h)
		if c.Vertices[e].Sub(c.Vertices[o]).Norm() <= splitFrom*sizes[k] {
			c.fine[edgeKey(o, e)] = struct{}{}
			continue
		}
		c.halve(t, h, sizes[k], mid)
	}
	if first == len(c.Vertices) {
		return false, nil
	}
	c.closeUp(t, mid)
	c.divide(mid)
	return true, nil
}

// halve enters a vertex in the middle of an edge.
func (c *cut) halve(t *mesh.Topology, h int32, size float64, mid []int32) {
	v := int32(len(c.Vertices))
	mid[h], mid[t.Twin[h]] = v, v
	c.Vertices = append(c.Vertices, c.Vertices[c.Origin(h)].Add(c.Vertices[c.Target(h)]).Mul(0.5))
	c.size = append(c.size, size)
}

// closeUp also halves the longest edge of every facet that is to be divided:
// otherwise facets would grow ever thinner (Rivara, Int. J. Numer. Meth. Eng. 20 (1984) 745).
func (c *cut) closeUp(t *mesh.Topology, mid []int32) {
	for again := true; again; {
		again = false
		for f := range c.Facets {
			best, longest, any := int32(0), -1.0, false
			for k := range int32(3) {
				h := 3*int32(f) + k
				any = any || mid[h] != mesh.None
				if l := c.Vertices[c.Target(h)].Sub(c.Vertices[c.Origin(h)]).Norm2(); l > longest {
					best, longest = h, l
				}
			}
			if any && mid[best] == mesh.None {
				c.halve(t, best, math.Min(c.size[c.Origin(best)], c.size[c.Target(best)]), mid)
				again = true
			}
		}
	}
}

// divide replaces each facet by the two, three or four that its new vertices make of it.
func (c *cut) divide(mid []int32) {
	facets, of := divide.Facets(c.Vertices, c.Facets, mid)
	for f, p := range of {
		of[f] = c.parent[p]
	}
	c.Facets, c.parent = facets, of
}
