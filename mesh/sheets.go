package mesh

import (
	"cmp"
	"math"
	"slices"
)

// separateEdges pairs the half-edges of edges at which more than two facets
// meet, when as many run one way as the other. Going around the edge, each
// stretch of metal is bounded by one facet of either way; those two become a
// pair, so that bodies which touch there come apart and each is a surface of
// its own. Stretches may lie within each other where bodies overlap; they are
// matched like brackets. Only the pairs are made here; separateVertices gives
// the sheets vertices of their own.
func (b *builder) separateEdges() {
	if b.topo.NonManifoldEdges == 0 {
		return
	}
	m := b.m
	first, count := None, 0
	m.eachEdge(func(e []edgeRef) {
		if len(e) < 3 || !balanced(e) {
			return
		}
		m.pairByAngle(e, b.topo.Twin)
		b.topo.NonManifoldEdges--
		count++
		if h := e[0].half(); first == None || h < first {
			first = h
		}
	})
	if count > 0 {
		b.rep.note(MendTouchEdge, count, b.middle(first), 0)
	}
}

// balanced tells whether as many half-edges run one way as the other.
func balanced(e []edgeRef) bool {
	n := 0
	for _, x := range e {
		if x.backward() {
			n++
		}
	}
	return 2*n == len(e)
}

// spoke is one half-edge of an edge, with the direction in which its facet
// leaves the edge: the angle about the axis from the lower to the higher vertex.
type spoke struct {
	angle float64 // rad, -pi to pi
	e     edgeRef
}

// spokes returns the half-edges of an edge in the order of their facets around it.
func (m *Mesh) spokes(e []edgeRef) []spoke {
	h := e[0].half()
	u, v := m.Origin(h), m.Target(h)
	if e[0].backward() {
		u, v = v, u
	}
	axis := m.Vertices[v].Sub(m.Vertices[u]).Normalize()
	x := axis.Ortho()
	y := axis.Cross(x)
	spokes := make([]spoke, len(e))
	for i, r := range e {
		d := m.Vertices[m.Origin(Prev(r.half()))].Sub(m.Vertices[u])
		spokes[i] = spoke{math.Atan2(d.Dot(y), d.Dot(x)), r}
	}
	slices.SortFunc(spokes, func(a, b spoke) int {
		if c := cmp.Compare(a.angle, b.angle); c != 0 {
			return c
		}
		return int(a.e.half()) - int(b.e.half())
	})
	return spokes
}

// pairByAngle enters the half-edges of one balanced edge into twin.
func (m *Mesh) pairByAngle(e []edgeRef, twin []int32) {
	spokes := m.spokes(e)
	// Seen against the axis, angles grow counterclockwise. The metal of a facet
	// that runs forward lies on its clockwise side: its normal is axis x d. So a
	// stretch of metal opens at a backward half-edge and closes at the next
	// forward one that is free.
	var open []int32
	for i := 0; i < 2*len(spokes); i++ {
		r := spokes[i%len(spokes)].e
		h := r.half()
		switch {
		case r.backward():
			if i < len(spokes) {
				open = append(open, h)
			}
		case twin[h] == None && len(open) > 0:
			g := open[len(open)-1]
			open = open[:len(open)-1]
			twin[h], twin[g] = g, h
		}
	}
}

// separateVertices gives every fan of facets a vertex of its own. The fan with
// the lowest corner keeps the vertex. On a mesh that is manifold already it
// changes nothing.
func (b *builder) separateVertices() {
	if b.topo.Pinched == 0 && b.rep.Of(MendTouchEdge) == 0 {
		return
	}
	m, twin := b.m, b.topo.Twin
	seen := make([]uint64, (len(twin)+63)/64)
	taken := make([]bool, len(m.Vertices))
	onEdge := b.touchEdgeEnds()
	n := len(m.Vertices)
	var parent []int32 // old vertex of every new one
	for c := range int32(len(twin)) {
		if seen[c/64]>>(c%64)&1 != 0 {
			continue
		}
		v := m.Origin(c)
		to := v
		if taken[v] {
			to = int32(n + len(parent))
			parent = append(parent, v)
			if !onEdge[v] {
				b.rep.note(MendTouchPoint, 1, m.Vertices[v], 0)
			}
		}
		taken[v] = true
		for h := c; ; {
			seen[h/64] |= 1 << (h % 64)
			m.Facets[h/3][h%3] = to
			h = twin[Prev(h)]
			if h == c {
				break
			}
		}
	}
	if len(parent) == 0 && len(onEdge) == 0 {
		return
	}
	for _, v := range parent {
		m.Vertices = append(m.Vertices, m.Vertices[v])
		b.rep.Touching = append(b.rep.Touching, v)
	}
	slices.Sort(b.rep.Touching)
	b.rep.Touching = slices.Compact(b.rep.Touching)
	for i := range parent {
		b.rep.Touching = append(b.rep.Touching, int32(n+i))
	}
	b.splitDoubleEdges()
}

// touchEdgeEnds returns the ends of the edges that more than two facets share.
func (b *builder) touchEdgeEnds() map[int32]bool {
	if b.rep.Of(MendTouchEdge) == 0 {
		return nil
	}
	ends := map[int32]bool{}
	b.m.eachEdge(func(e []edgeRef) {
		if len(e) > 2 {
			h := e[0].half()
			ends[b.m.Origin(h)], ends[b.m.Target(h)] = true, true
		}
	})
	return ends
}

// splitDoubleEdges puts a vertex into the middle of every edge that still has
// the same two ends as another edge: where two sheets that were separated along
// an edge are one surface at both its ends. The facets on both sides are halved.
func (b *builder) splitDoubleEdges() {
	m, twin := b.m, b.topo.Twin
	var halves []int32 // one half-edge of each edge to split
	m.eachEdge(func(e []edgeRef) {
		for i := 1; len(e) > 2 && i < len(e); i++ {
			h := e[i].half()
			if t := twin[h]; h < t && h != e[0].half() {
				halves = append(halves, h)
			}
		}
	})
	if len(halves) > 0 {
		slices.Sort(halves)
		in := make([]edgePoint, 0, 2*len(halves))
		for _, h := range halves {
			v := int32(len(m.Vertices))
			m.Vertices = append(m.Vertices, b.middle(h))
			b.rep.Touching = append(b.rep.Touching, v)
			in = append(in, edgePoint{h, v, 0.5}, edgePoint{twin[h], v, 0.5})
		}
		b.insertPoints(in)
	}
	b.topo = m.Topology()
}

// edgePoint is a vertex to be put into a half-edge, at share t of its length.
type edgePoint struct {
	half, vertex int32
	t            float64
}

// insertPoints puts vertices into edges. A facet with points on its edges
// becomes as many facets as it takes, in its place and with its source.
func (b *builder) insertPoints(in []edgePoint) {
	m := b.m
	b.makeSource()
	slices.SortFunc(in, func(p, q edgePoint) int {
		switch {
		case p.half != q.half:
			return int(p.half) - int(q.half)
		case p.t < q.t:
			return -1
		case p.t > q.t:
			return 1
		}
		return int(p.vertex) - int(q.vertex)
	})
	solidOf := newSolidCounter(m.Solids)
	out := &Mesh{Vertices: m.Vertices}
	n := len(m.Facets) + len(in)
	out.Facets, out.Source = make([][3]int32, 0, n), make([]int32, 0, n)
	i := 0
	for f, t := range m.Facets {
		var on [3][]int32
		for k := range 3 {
			for ; i < len(in) && in[i].half == int32(3*f+k); i++ {
				on[k] = append(on[k], in[i].vertex)
			}
		}
		had := len(out.Facets)
		out.Facets = cutFacet(out.Facets, t, on)
		if made := len(out.Facets) - had; made > 1 {
			solidOf.more(f, made-1)
		}
		for len(out.Source) < len(out.Facets) {
			out.Source = append(out.Source, m.Source[f])
			if m.Attributes != nil {
				out.Attributes = append(out.Attributes, m.Attributes[f])
			}
		}
	}
	out.Solids = solidOf.result()
	*m = *out
}

// cutFacet appends the pieces of facet t with the points on[k] on edge k, by
// cutting from a point to the opposite corner, the middle point of an edge
// first. Every piece has a corner off the line of each of its edges, so none
// is without area when t is not.
func cutFacet(out [][3]int32, t [3]int32, on [3][]int32) [][3]int32 {
	k := 0
	for k < 3 && len(on[k]) == 0 {
		k++
	}
	if k == 3 {
		return append(out, t)
	}
	a, b, c := t[k], t[(k+1)%3], t[(k+2)%3]
	ab, bc, ca := on[k], on[(k+1)%3], on[(k+2)%3]
	i := len(ab) / 2
	p := ab[i]
	out = cutFacet(out, [3]int32{a, p, c}, [3][]int32{ab[:i], nil, ca})
	return cutFacet(out, [3]int32{p, b, c}, [3][]int32{ab[i+1:], bc, nil})
}
