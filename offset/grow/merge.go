package grow

import (
	"cmp"
	"context"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

const (
	// mergeRounds bounds the rounds of merging; each needs fewer turned facets than the last.
	mergeRounds = 8

	// mergeReach is the longest edge whose ends may become one vertex, in allowances.
	mergeReach = 2.0
)

// merger makes vertices of the grown surface one where facets between them
// turned over: a facet narrower than its corners' moves differ has no place on
// the grown surface.
type merger struct {
	*grower
	r        *Result
	vertices []r3.Vector       // the result's until some became one
	facets   [][3]int32        // on the vertices that are left
	own      bool              // vertices and facets are the merger's
	group    map[int32][]int32 // of a vertex that took others in: all its nominal vertices
	around   map[int32][]int32 // and the facets that have one of them, ascending
	fixed    map[int32]bool    // needles: bevel splits them
	near     []bool            // facets at or beside those that cross; nil when none do
	planes   []plane
}

// merge makes the ends of short edges of turned facets one vertex, as near to
// where they went as the facets around both allow, when fewer facets are turned
// then. No facet's stock goes missing at its corners. Where nothing crosses,
// turned facets do no harm and are left. The result's own vertices stay as they are.
func (g *grower) merge(ctx context.Context, r *Result) (*merger, error) {
	m := &merger{grower: g, r: r, vertices: r.Vertices, facets: g.m.Facets, group: map[int32][]int32{}, around: map[int32][]int32{}, fixed: map[int32]bool{}}
	for _, n := range r.Needles {
		m.fixed[n.Vertex] = true
	}
	var err error
	if m.near, err = g.nearCrossings(ctx, r); err != nil || m.near == nil {
		return m, err
	}
	turned, err := g.turned(ctx, r)
	if err != nil {
		return m, err
	}
	var bad []int32
	for _, f := range turned {
		if m.near[f] {
			bad = append(bad, f)
		}
	}
	for range mergeRounds {
		if len(bad) == 0 {
			break
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		done := false
		for _, f := range bad {
			done = m.shrink(f) || done
		}
		if !done {
			break
		}
		bad = bad[:0]
		for f := range m.facets {
			if m.near[f] && m.turnedOver(int32(f)) {
				bad = append(bad, int32(f))
			}
		}
	}
	return m, nil
}

// nearRings is how many rings of facets around those that cross are looked at.
const nearRings = 3

// nearCrossings finds the facets that cross others on written coordinates, and
// marks them and those around them; nil when none do.
func (g *grower) nearCrossings(ctx context.Context, r *Result) ([]bool, error) {
	grown := g.m.WithVertices(mesh.Rounded(r.Vertices))
	var tree *bvh.Tree
	if t := g.opt.Tree; t != nil && t.Mesh() == g.m {
		tree = t.Moved(grown, g.opt.Workers)
	} else {
		tree = bvh.New(grown, g.opt.Workers)
	}
	c, err := tree.SelfCrossings(ctx, bvh.CrossingOptions{Workers: g.opt.Workers})
	if r.Crossings = c; err != nil || c.Total == 0 {
		return nil, err
	}
	var facets []int32
	for _, p := range c.Pairs {
		facets = append(facets, int32(p[0]), int32(p[1]))
	}
	near := make([]bool, len(g.m.Facets))
	for _, v := range g.around(facets, nearRings) {
		for _, c := range g.in.Of(v) {
			near[c/3] = true
		}
	}
	return near, nil
}

// merged tells whether any vertices became one.
func (m *merger) merged() bool { return len(m.group) > 0 }

// shrink tries the edges of facet f, the shortest first.
func (m *merger) shrink(f int32) bool {
	if !m.turnedOver(f) {
		return false // a merge before this one helped it
	}
	type side struct {
		k    int
		long float64
	}
	var sides [3]side
	for k := range 3 {
		a, b := m.m.Corner(int(f), k), m.m.Corner(int(f), (k+1)%3)
		sides[k] = side{k, a.Sub(b).Norm2()}
	}
	slices.SortFunc(sides[:], func(a, b side) int { return cmp.Or(cmp.Compare(a.long, b.long), cmp.Compare(a.k, b.k)) })
	a := m.r.Allowance[f]
	reach := mergeReach * max(a[0], a[1], a[2])
	for _, s := range sides {
		if s.long > reach*reach {
			return false
		}
		if m.unite(m.facets[f][s.k], m.facets[f][(s.k+1)%3]) {
			return true
		}
	}
	return false
}

// unite makes u and v, the ends of an edge, one vertex, u, if that is sound.
func (m *merger) unite(u, v int32) bool {
	if m.fixed[u] || m.fixed[v] || !m.linked(u, v) {
		return false
	}
	facets := append(append([]int32(nil), m.facetsOf(u)...), m.facetsOf(v)...)
	slices.Sort(facets)
	facets = slices.Compact(facets)
	vertices := append(append([]int32(nil), m.verticesOf(u)...), m.verticesOf(v)...)
	at, ok := m.place(u, v, facets)
	if !ok {
		return false
	}
	before := m.countTurned(facets)
	old, oldU, oldV := make([][3]int32, len(facets)), m.vertices[u], m.vertices[v]
	if !m.own {
		m.vertices, m.facets, m.own = slices.Clone(m.vertices), slices.Clone(m.facets), true
	}
	for i, f := range facets {
		old[i] = m.facets[f]
		for k, w := range m.facets[f] {
			if w == v {
				m.facets[f][k] = u
			}
		}
	}
	m.vertices[u], m.vertices[v] = at, at
	if m.countTurned(facets) >= before {
		for i, f := range facets {
			m.facets[f] = old[i]
		}
		m.vertices[u], m.vertices[v] = oldU, oldV
		return false
	}
	for _, w := range vertices {
		m.vertices[w] = at
	}
	m.group[u], m.around[u] = vertices, facets
	delete(m.group, v)
	delete(m.around, v)
	return true
}

// place returns the point nearest to the middle of where u and v went that
// gives the facets their stock; false when it is too far from the nominal ones.
func (m *merger) place(u, v int32, facets []int32) (r3.Vector, bool) {
	mid := m.vertices[u].Add(m.vertices[v]).Mul(0.5)
	m.planes = m.planes[:0]
	most, long := 0.0, 0.0
	for _, f := range facets {
		if m.opt.Keep != nil && m.opt.Keep[f] {
			return r3.Vector{}, false
		}
		for k, w := range m.m.Facets[f] {
			rep := m.facets[f][k]
			if rep != u && rep != v {
				continue
			}
			a := m.r.Allowance[f][k]
			most = max(most, a)
			long = max(long, m.vertices[rep].Sub(m.m.Vertices[w]).Norm())
			if n := m.normal(f); n != (r3.Vector{}) {
				m.planes = append(m.planes, plane{n, a - n.Dot(mid.Sub(m.m.Vertices[w]))})
			}
		}
	}
	limit := min(m.opt.MitreLimit*most, longerCap*long)
	d, out := search(m.planes, limit, feasible*most)
	return mid.Add(d), out == solved
}

// linked is the link condition: the surface stays manifold when an edge's two
// ends become one if they have no common neighbours but the two beside the edge.
func (m *merger) linked(u, v int32) bool {
	nu, shared := m.neighbours(u, v)
	nv, _ := m.neighbours(v, u)
	if shared != 2 || len(nu) < 4 && len(nv) < 4 {
		return false
	}
	common := 0
	for _, w := range nu {
		if _, ok := slices.BinarySearch(nv, w); ok {
			common++
		}
	}
	return common == 2
}

// neighbours returns the vertices joined to u by an edge, ascending, and how many facets u and v share.
func (m *merger) neighbours(u, v int32) (list []int32, shared int) {
	for _, f := range m.facetsOf(u) {
		t := m.facets[f]
		if gone(t) {
			continue
		}
		if t[0] == v || t[1] == v || t[2] == v {
			shared++
		}
		for _, w := range t {
			if w != u {
				list = append(list, w)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list), shared
}

// gone tells whether two corners of a facet are one.
func gone(t [3]int32) bool { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0] }

func (m *merger) verticesOf(u int32) []int32 {
	if g, ok := m.group[u]; ok {
		return g
	}
	return []int32{u}
}

func (m *merger) facetsOf(u int32) []int32 {
	if a, ok := m.around[u]; ok {
		return a
	}
	var list []int32
	for _, c := range m.in.Of(u) {
		list = append(list, c/3)
	}
	return list
}

func (m *merger) countTurned(facets []int32) int {
	n := 0
	for _, f := range facets {
		if m.turnedOver(f) {
			n++
		}
	}
	return n
}

// turnedOver tells whether a facet that is left turned over.
func (m *merger) turnedOver(f int32) bool {
	t := m.facets[f]
	return !gone(t) && over(m.normal(f), m.vertices[t[0]], m.vertices[t[1]], m.vertices[t[2]])
}

// over tells whether a facet with normal n before has turned over on corners a, b and c.
func over(n, a, b, c r3.Vector) bool {
	if n == (r3.Vector{}) {
		return false
	}
	x := b.Sub(a).Cross(c.Sub(a))
	return x.Dot(n) < turnedBelow*x.Norm()
}
