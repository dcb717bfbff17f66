package mesh

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// lowFacets returns the facets whose height is at most low, ascending: flat
// ones and needles.
func (m *Mesh) lowFacets(low float64) []int32 {
	parts := make([][]int32, (len(m.Facets)+Chunk-1)/Chunk)
	InChunks(len(m.Facets), 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			if m.height(f) <= low {
				parts[lo/Chunk] = append(parts[lo/Chunk], int32(f))
			}
		}
	})
	return slices.Concat(parts...)
}

// closeShortEdges joins the ends of edges that are no longer than a
// coordinate's rounding: the needles at them have normals without meaning.
// Facets that fold up are left out. It returns how many facets were that low.
func (b *builder) closeShortEdges() int {
	m := b.m
	tol := b.rounding
	low := m.lowFacets(tol)
	var ends []int32
	var edges [][2]int32
	for _, f := range low {
		t := m.Facets[f]
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			if u != v && m.Vertices[u].Sub(m.Vertices[v]).Norm() <= tol {
				edges = append(edges, [2]int32{u, v})
				ends = append(ends, u, v)
			}
		}
	}
	if len(edges) == 0 {
		return len(low)
	}
	slices.Sort(ends)
	ends = slices.Compact(ends)
	at := m.positions(ends)
	limit := make([]float64, len(ends))
	for i := range limit {
		limit[i] = tol
	}
	pairs := make([]vertexPair, len(edges))
	for i, e := range edges {
		p, _ := slices.BinarySearch(ends, e[0])
		q, _ := slices.BinarySearch(ends, e[1])
		pairs[i] = newVertexPair(at, p, q)
	}
	b.join(MendShortEdge, ends, at, limit, pairs)
	return len(low)
}

// flipFlat takes facets without area out of a closed surface. Such a facet has
// its corners in a row: it ties a vertex to the middle of its neighbour's long
// edge. That edge is flipped, so that the neighbour is halved at the vertex
// and no facet without area is left; the surface stays where it is. A facet
// counts as without area when it is lower than a coordinate can be rounded by,
// which leaves its normal without meaning.
func (b *builder) flipFlat() {
	if b.sound {
		return
	}
	m := b.m
	low := b.rounding / 2
	flat := m.lowFacets(low)
	first, flips, move := None, 0, 0.0
	// A chain of flat facets is undone from its end, one a round.
	for len(flat) > 0 {
		left := flat[:0]
		for _, f := range flat {
			h := m.height(int(f))
			if !b.flipLongest(int(f), low) {
				left = append(left, f)
				continue
			}
			if first == None || f < first {
				first = f
			}
			flips++
			move = max(move, h)
		}
		if len(left) == len(flat) {
			break
		}
		flat = left
	}
	if flips > 0 {
		b.rep.note(MendFlat, flips, m.Centroid(int(first)), move)
	}
}

// height returns the height of facet f over its longest edge, mm.
func (m *Mesh) height(f int) float64 {
	p, q, r := m.Triangle(f)
	l := math.Sqrt(max(q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()))
	if l == 0 {
		return 0
	}
	return q.Sub(p).Cross(r.Sub(p)).Norm() / l
}

// flipLongest flips the longest edge of flat facet f when both facets that
// come of it are sound and look the way of the neighbour.
func (b *builder) flipLongest(f int, low float64) bool {
	m, twin := b.m, b.topo.Twin
	h := m.longestHalf(f)
	g := twin[h]
	r, s := m.Origin(Prev(h)), m.Origin(Prev(g))
	p, q := m.Origin(h), m.Target(h)
	if r == s || m.height(int(g/3)) <= low || b.joined(Prev(h), s) {
		return false
	}
	normal := m.AreaNormal(int(g / 3))
	for _, t := range [2][3]r3.Vector{
		{m.Vertices[p], m.Vertices[s], m.Vertices[r]},
		{m.Vertices[q], m.Vertices[r], m.Vertices[s]},
	} {
		n := t[1].Sub(t[0]).Cross(t[2].Sub(t[0]))
		l := math.Sqrt(max(t[1].Sub(t[0]).Norm2(), t[2].Sub(t[1]).Norm2(), t[0].Sub(t[2]).Norm2()))
		if !(n.Norm() > low*l) || n.Dot(normal) <= 0 {
			return false
		}
	}
	b.makeSource()
	m.flip(twin, h)
	m.Source[f] = m.Source[g/3]
	if m.Attributes != nil {
		m.Attributes[f] = m.Attributes[g/3]
	}
	return true
}

// longestHalf returns the longest half-edge of facet f, the first of equals.
func (m *Mesh) longestHalf(f int) int32 {
	p, q, r := m.Triangle(f)
	a, b, c := q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()
	switch {
	case a >= b && a >= c:
		return int32(3 * f)
	case b >= c:
		return int32(3*f + 1)
	}
	return int32(3*f + 2)
}

// joined tells whether an edge joins the origin of half-edge h and vertex v.
func (b *builder) joined(h, v int32) bool {
	m, twin := b.m, b.topo.Twin
	for g := h; ; {
		if m.Target(g) == v || m.Origin(Prev(g)) == v {
			return true
		}
		if g = twin[Prev(g)]; g == h {
			return false
		}
	}
}

// flip turns the edge of half-edge h within the two facets beside it, and
// keeps twin right: h then comes from the other facet's third vertex and goes
// to its own facet's, and that facet keeps the origin of h.
func (m *Mesh) flip(twin []int32, h int32) {
	g := twin[h]
	p, q := m.Origin(h), m.Target(h)
	r, s := m.Origin(Prev(h)), m.Origin(Prev(g))
	hn, hp, gn, gp := twin[Next(h)], twin[Prev(h)], twin[Next(g)], twin[Prev(g)]
	f, e := h/3, g/3
	m.Facets[f][h%3], m.Facets[f][Next(h)%3], m.Facets[f][Prev(h)%3] = s, r, p
	m.Facets[e][g%3], m.Facets[e][Next(g)%3], m.Facets[e][Prev(g)%3] = r, s, q
	// h: s-r, Next(h): r-p, Prev(h): p-s; g: r-s, Next(g): s-q, Prev(g): q-r.
	link := func(a, b int32) { twin[a], twin[b] = b, a }
	link(Next(h), hp)
	link(Prev(h), gn)
	link(Next(g), gp)
	link(Prev(g), hn)
}
