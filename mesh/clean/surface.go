package clean

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// surface is a closed triangle mesh whose edges can be collapsed and flipped.
type surface struct {
	mesh.Mesh
	twin   []int32
	half   []int32   // by vertex: a half-edge that starts there
	gone   []bool    // facets collapsed away
	moved  []float64 // by facet: bound of its distance to the surface that came in, mm
	source []int32   // by facet: the facet of the mesh that came in whose place it has
}

func newSurface(m *mesh.Mesh, topo *mesh.Topology) *surface {
	s := &surface{
		Mesh: mesh.Mesh{Vertices: slices.Clone(m.Vertices), Facets: slices.Clone(m.Facets)}, twin: slices.Clone(topo.Twin),
		half: make([]int32, len(m.Vertices)), gone: make([]bool, len(m.Facets)),
		moved: make([]float64, len(m.Facets)), source: make([]int32, len(m.Facets)),
	}
	for f, t := range s.Facets {
		s.source[f] = int32(f)
		for k, v := range t {
			s.half[v] = int32(3*f + k)
		}
	}
	return s
}

func (s *surface) origin(h int32) int32 { return s.Facets[h/3][h%3] }
func (s *surface) target(h int32) int32 { return s.origin(mesh.Next(h)) }

// around returns the half-edge after h that starts at the same vertex.
func (s *surface) around(h int32) int32 { return s.twin[mesh.Prev(h)] }

func areaNormal(p, q, r r3.Vector) r3.Vector { return q.Sub(p).Cross(r.Sub(p)) }

// longestOf returns the length of the longest side of a triangle.
func longestOf(p, q, r r3.Vector) float64 {
	return math.Sqrt(max(q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()))
}

// heightOf returns the height of a triangle over its longest side, 0 for a point.
func heightOf(p, q, r r3.Vector) float64 {
	if l := longestOf(p, q, r); l > 0 {
		return areaNormal(p, q, r).Norm() / l
	}
	return 0
}

func (s *surface) longest(f int32) float64 { return longestOf(s.Triangle(int(f))) }
func (s *surface) height(f int32) float64  { return heightOf(s.Triangle(int(f))) }

// shortAndLong returns the shortest and the longest half-edge of a facet.
func (s *surface) shortAndLong(f int32) (short, long int32) {
	p, q, r := s.Triangle(int(f))
	l := [3]float64{q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()}
	for k := int32(1); k < 3; k++ {
		if l[k] < l[short] {
			short = k
		}
		if l[k] > l[long] {
			long = k
		}
	}
	return 3*f + short, 3*f + long
}

// linked tells whether an edge joins u and v.
func (s *surface) linked(u, v int32) bool {
	start := s.half[u]
	for h := start; ; {
		if s.target(h) == v {
			return true
		}
		if h = s.around(h); h == start {
			return false
		}
	}
}

// valence returns the number of edges at a vertex.
func (s *surface) valence(v int32) int {
	n := 0
	start := s.half[v]
	for h := start; ; {
		n++
		if h = s.around(h); h == start {
			return n
		}
	}
}

// collapsible tells whether the ends of half-edge h can be joined and the
// surface stays a manifold: the ends have no neighbour in common but the third
// corners of the two facets, and those have more than three edges (the link
// condition of Dey, Edelsbrunner, Guha and Nekhayev, 1999).
func (s *surface) collapsible(h int32) bool {
	v, u := s.origin(h), s.target(h)
	w, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(s.twin[h]))
	if w == x || s.valence(w) <= 3 || s.valence(x) <= 3 {
		return false
	}
	for g := s.around(h); g != h; g = s.around(g) {
		if n := s.target(g); n != w && n != x && s.linked(u, n) {
			return false
		}
	}
	return s.origin(h) == v
}

// collapse moves the origin of half-edge h into its target; d is what
// collapseMove said.
func (s *surface) collapse(h int32, d float64) {
	g := s.twin[h]
	v, u := s.origin(h), s.target(h)
	w, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(g))
	before := s.movedAround(v)
	for c := s.around(h); c != h; c = s.around(c) {
		s.Facets[c/3][c%3] = u
		s.moved[c/3] = before + d
	}
	s.Facets[h/3][h%3] = u
	s.seam(mesh.Next(h), mesh.Prev(h))
	s.seam(mesh.Next(g), mesh.Prev(g))
	s.gone[h/3], s.gone[g/3] = true, true
	// A half-edge of a facet that is left, for every vertex that lost one.
	s.half[u] = s.nextLive(s.twin[mesh.Next(h)], u)
	s.half[w] = s.nextLive(s.twin[mesh.Next(h)], w)
	s.half[x] = s.nextLive(s.twin[mesh.Next(g)], x)
}

// collapseTo joins the ends of half-edge h at the place p; d is what
// mergeMove said.
func (s *surface) collapseTo(h int32, p r3.Vector, d float64) {
	u := s.target(h)
	before := max(s.movedAround(s.origin(h)), s.movedAround(u))
	s.collapse(h, d)
	s.Vertices[u] = p
	start := s.half[u]
	for c := start; ; {
		s.moved[c/3] = before + d
		if c = s.around(c); c == start {
			return
		}
	}
}

// seam joins the neighbours of two half-edges of a facet that goes.
func (s *surface) seam(a, b int32) {
	p, q := s.twin[a], s.twin[b]
	s.twin[p], s.twin[q] = q, p
}

// nextLive returns the half-edge of h's edge that starts at v.
func (s *surface) nextLive(h, v int32) int32 {
	if s.origin(h) == v {
		return h
	}
	return s.twin[h]
}

// movedAround returns the largest bound of the facets around v.
func (s *surface) movedAround(v int32) float64 {
	d := 0.0
	start := s.half[v]
	for h := start; ; {
		d = max(d, s.moved[h/3])
		if h = s.around(h); h == start {
			return d
		}
	}
}

// flip turns the edge of half-edge h within its two facets; d is what flipMove said.
func (s *surface) flip(h int32, d float64) {
	g := s.twin[h]
	f, e := h/3, g/3
	p, q := s.origin(h), s.target(h)
	r, x := s.origin(mesh.Prev(h)), s.origin(mesh.Prev(g))
	hn, hp, gn, gp := s.twin[mesh.Next(h)], s.twin[mesh.Prev(h)], s.twin[mesh.Next(g)], s.twin[mesh.Prev(g)]
	if s.AreaNormal(int(f)).Norm2() < s.AreaNormal(int(e)).Norm2() {
		s.source[f] = s.source[e]
	} else {
		s.source[e] = s.source[f]
	}
	set := func(h, a, b, c int32) {
		s.Facets[h/3][h%3], s.Facets[h/3][mesh.Next(h)%3], s.Facets[h/3][mesh.Prev(h)%3] = a, b, c
	}
	// h: x-r, then r-p, p-x; g: r-x, then x-q, q-r.
	set(h, x, r, p)
	set(g, r, x, q)
	link := func(a, b int32) { s.twin[a], s.twin[b] = b, a }
	link(mesh.Next(h), hp)
	link(mesh.Prev(h), gn)
	link(mesh.Next(g), gp)
	link(mesh.Prev(g), hn)
	s.half[p], s.half[q], s.half[r], s.half[x] = mesh.Prev(h), mesh.Prev(g), mesh.Next(h), mesh.Next(g)
	s.moved[f] = max(s.moved[f], s.moved[e]) + d
	s.moved[e] = s.moved[f]
}

// result returns the surface as a mesh, without what is gone.
func (s *surface) result(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Solids: slices.Clone(m.Solids)}
	number := make([]int32, len(s.Vertices))
	for v := range number {
		number[v] = -1
	}
	used := make([]bool, len(s.Vertices))
	for f, t := range s.Facets {
		if !s.gone[f] {
			used[t[0]], used[t[1]], used[t[2]] = true, true, true
		}
	}
	for v, p := range s.Vertices {
		if used[v] {
			number[v] = int32(len(out.Vertices))
			out.Vertices = append(out.Vertices, p)
		}
	}
	solid := 0
	for f, t := range s.Facets {
		for solid < len(m.Solids) && f >= m.Solids[solid].First+m.Solids[solid].Count {
			solid++
		}
		if s.gone[f] {
			if solid < len(m.Solids) && f >= m.Solids[solid].First {
				out.Solids[solid].Count--
			}
			continue
		}
		out.Facets = append(out.Facets, [3]int32{number[t[0]], number[t[1]], number[t[2]]})
		out.Source = append(out.Source, int32(m.SourceOf(int(s.source[f]))))
		if m.Attributes != nil {
			out.Attributes = append(out.Attributes, m.Attributes[s.source[f]])
		}
	}
	first := 0
	for i := range out.Solids {
		out.Solids[i].First = first
		first += out.Solids[i].Count
	}
	return out
}
