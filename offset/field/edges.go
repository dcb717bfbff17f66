package field

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
)

// sharpFrom is the turn of the normal beyond which an edge that juts out counts
// as sharp: the flux beside it grows without bound, as r^(pi/omega-1).
const sharpFrom = 40 * s1.Degree

// segment is a sharp edge, and the room in front of the surface beside it, mm.
type segment struct {
	a, b r3.Vector
	room float64
}

// sharpEdges lists the edges that jut out sharply, each once, in half-edge order.
func sharpEdges(m *mesh.Mesh, t *mesh.Topology, space *rooms) []segment {
	cos := math.Cos(sharpFrom.Radians())
	normals := make([]r3.Vector, len(m.Facets))
	for f := range normals {
		normals[f] = m.FacetNormal(f)
	}
	var out []segment
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		f, k := int32(h)/3, g/3
		if normals[f].Dot(normals[k]) >= cos || normals[f] == (r3.Vector{}) || normals[k] == (r3.Vector{}) {
			continue
		}
		a := m.Vertices[m.Origin(int32(h))]
		across := m.Vertices[m.Origin(mesh.Prev(g))]
		if across.Sub(a).Dot(normals[f]) < 0 {
			s := segment{a, m.Vertices[m.Target(int32(h))], space.most}
			mid := s.a.Add(s.b).Mul(0.5)
			for _, side := range [2]int32{f, k} {
				x, y, z := m.Triangle(int(side))
				p := mid.Mul(0.9).Add(x.Add(y).Add(z).Mul(0.1 / 3))
				s.room = math.Min(s.room, space.at(p, normals[side], space.most))
			}
			out = append(out, s)
		}
	}
	return out
}

// segmentTree finds the sharp edge that wants the smallest panels at a place.
type segmentTree struct {
	segments []segment
	nodes    []segmentNode
}

type segmentNode struct {
	lo, hi      r3.Vector
	room        float64 // least of its segments
	first, last int32
	right       int32 // the left child follows its parent; 0 in a leaf
}

func newSegmentTree(s []segment) *segmentTree {
	t := &segmentTree{segments: s}
	if len(s) > 0 {
		t.build(0, len(s))
	}
	return t
}

func (t *segmentTree) build(first, last int) {
	id := len(t.nodes)
	s := t.segments[first:last]
	n := segmentNode{first: int32(first), last: int32(last), lo: s[0].a, hi: s[0].a, room: s[0].room}
	for _, g := range s {
		n.room = math.Min(n.room, g.room)
		for _, v := range [2]r3.Vector{g.a, g.b} {
			n.lo = r3.Vector{X: math.Min(n.lo.X, v.X), Y: math.Min(n.lo.Y, v.Y), Z: math.Min(n.lo.Z, v.Z)}
			n.hi = r3.Vector{X: math.Max(n.hi.X, v.X), Y: math.Max(n.hi.Y, v.Y), Z: math.Max(n.hi.Z, v.Z)}
		}
	}
	t.nodes = append(t.nodes, n)
	if len(s) <= 4 {
		return
	}
	h := halve(len(s), func(i int) r3.Vector { return s[i].a.Add(s[i].b) }, func(i, j int) { s[i], s[j] = s[j], s[i] })
	t.build(first, first+h)
	t.nodes[id].right = int32(len(t.nodes))
	t.build(first+h, last)
}

// least returns the smallest of size(room) + slope * distance over the edges,
// or most when none is smaller; size must not fall with the room.
func (t *segmentTree) least(p r3.Vector, slope, most float64, size func(room float64) float64) float64 {
	if len(t.nodes) > 0 {
		t.search(0, p, slope, size, &most)
	}
	return most
}

func (t *segmentTree) search(id int32, p r3.Vector, slope float64, size func(float64) float64, best *float64) {
	n := &t.nodes[id]
	if size(n.room)+slope*math.Sqrt(n.away2(p)) >= *best {
		return
	}
	if n.right == 0 {
		for _, s := range t.segments[n.first:n.last] {
			*best = math.Min(*best, size(s.room)+slope*p.Sub(closestOnSegment(p, s.a, s.b)).Norm())
		}
		return
	}
	l, r := id+1, n.right
	if t.nodes[r].away2(p) < t.nodes[l].away2(p) {
		l, r = r, l
	}
	t.search(l, p, slope, size, best)
	t.search(r, p, slope, size, best)
}

// away2 is the squared distance from p to the node's box.
func (n *segmentNode) away2(p r3.Vector) float64 {
	d := r3.Vector{
		X: math.Max(0, math.Max(n.lo.X-p.X, p.X-n.hi.X)),
		Y: math.Max(0, math.Max(n.lo.Y-p.Y, p.Y-n.hi.Y)),
		Z: math.Max(0, math.Max(n.lo.Z-p.Z, p.Z-n.hi.Z)),
	}
	return d.Norm2()
}

func closestOnSegment(p, a, b r3.Vector) r3.Vector {
	d := b.Sub(a)
	l2 := d.Norm2()
	if l2 == 0 {
		return a
	}
	return a.Add(d.Mul(math.Max(0, math.Min(1, p.Sub(a).Dot(d)/l2))))
}
