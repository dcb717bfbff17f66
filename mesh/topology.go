package mesh

import (
	"cmp"
	"slices"
)

// None marks a half-edge without a partner.
const None int32 = -1

// Topology tells how facets hang together.
type Topology struct {
	// Twin[h] is the half-edge that runs the other way along half-edge h, or
	// None where the surface is open, wound inconsistently or not manifold.
	Twin []int32

	OpenEdges        int // edges with one facet
	NonManifoldEdges int // edges with three facets or more
	WrongWayEdges    int // edges whose two facets run the same way

	// Pinched counts the vertices with sound edges whose facets form more than one fan.
	Pinched int
}

// Closed tells whether every edge has exactly two facets, wound consistently.
func (t *Topology) Closed() bool {
	return t.OpenEdges == 0 && t.NonManifoldEdges == 0 && t.WrongWayEdges == 0
}

// Next returns the half-edge after h in its facet.
func Next(h int32) int32 {
	if h%3 == 2 {
		return h - 2
	}
	return h + 1
}

// Prev returns the half-edge before h in its facet.
func Prev(h int32) int32 {
	if h%3 == 0 {
		return h + 2
	}
	return h - 1
}

// Origin returns the vertex at which half-edge h starts.
func (m *Mesh) Origin(h int32) int32 { return m.Facets[h/3][h%3] }

// Target returns the vertex at which half-edge h ends.
func (m *Mesh) Target(h int32) int32 { return m.Origin(Next(h)) }

// Topology pairs the half-edges. It takes time and memory in proportion to the
// facets, and the result does not depend on anything but the facets.
func (m *Mesh) Topology() *Topology { return m.pair(m.Incidence()) }

// pair is Topology for callers that have the corners around every vertex.
func (m *Mesh) pair(in *Incidence) *Topology {
	t := &Topology{Twin: make([]int32, 3*len(m.Facets))}
	parts := make([]Topology, (len(m.Vertices)+Chunk-1)/Chunk)
	InChunks(len(m.Vertices), 0, func(lo, hi int) {
		p := Topology{Twin: t.Twin}
		var around ring
		var edges []edgeRef
		for v := int32(lo); v < int32(hi); v++ {
			corners := in.Of(v)
			sound := around.pair(m, v, corners, t.Twin)
			if !sound {
				edges = m.edgesAt(corners, edges[:0])
				sound = p.pairEdges(v, edges)
			}
			if sound && !oneFan(corners, t.Twin) {
				p.Pinched++
			}
		}
		parts[lo/Chunk] = p
	})
	for _, p := range parts {
		t.OpenEdges += p.OpenEdges
		t.NonManifoldEdges += p.NonManifoldEdges
		t.WrongWayEdges += p.WrongWayEdges
		t.Pinched += p.Pinched
	}
	return t
}

// longRing is the number of facets around a vertex from which their edges are
// sorted to be paired, so that the hub of a large fan does not cost the square of them.
const longRing = 24

// ring is scratch for the facets around a vertex: the vertices on either side of each.
type ring struct{ next, prev [longRing]int32 }

// pair enters the half-edges that begin at v, with the corners around it, where
// each has exactly one partner, and tells whether they have.
func (r *ring) pair(m *Mesh, v int32, corners, twin []int32) bool {
	n := len(corners)
	if n > longRing {
		return false
	}
	for i, c := range corners {
		t := &m.Facets[c/3]
		r.next[i], r.prev[i] = t[(c+1)%3], t[(c+2)%3]
	}
	met := uint32(0)
	for i, w := range r.next[:n] {
		across := slices.Index(r.prev[:n], w)
		if across < 0 || w == v {
			return false
		}
		met |= 1 << across
		twin[corners[i]] = Prev(corners[across])
	}
	return met == 1<<n-1
}

// oneFan tells whether the facets around a vertex form a single fan; all
// half-edges that begin there have a partner.
func oneFan(corners, twin []int32) bool {
	if len(corners) == 0 {
		return true
	}
	n, first := 1, corners[0]
	for c := Next(twin[first]); c != first; c = Next(twin[c]) {
		n++
	}
	return n == len(corners)
}

// edgeRef is one half-edge at a vertex: the vertex at its other end, and twice
// the half-edge plus one when it ends here.
type edgeRef struct {
	other int32
	code  uint32
}

func (e edgeRef) half() int32    { return int32(e.code >> 1) }
func (e edgeRef) backward() bool { return e.code&1 != 0 }

// edgesAt appends the half-edges that begin or end at a vertex with the given
// corners around it to edges, ascending.
func (m *Mesh) edgesAt(corners []int32, edges []edgeRef) []edgeRef {
	for _, c := range corners {
		v, p := m.Origin(c), Prev(c)
		out, back := edgeRef{m.Target(c), uint32(c) << 1}, edgeRef{m.Origin(p), uint32(p)<<1 | 1}
		switch {
		case back.other == v: // a facet with two equal corners; the edge between them is there already
			edges = append(edges, out)
		case p < c:
			edges = append(edges, back, out)
		default:
			edges = append(edges, out, back)
		}
	}
	return edges
}

// pairEdges enters the half-edges that begin at v, and counts the edges at
// fault that lead to higher vertices. It tells whether none is, and reorders the edges.
func (t *Topology) pairEdges(v int32, edges []edgeRef) (sound bool) {
	sound = true
	eachOf(edges, func(e []edgeRef) {
		proper := len(e) == 2 && e[0].backward() != e[1].backward()
		sound = sound && proper
		for i := range e {
			switch {
			case e[i].backward():
			case proper:
				t.Twin[e[i].half()] = e[1-i].half()
			default:
				t.Twin[e[i].half()] = None
			}
		}
		switch {
		case proper || e[0].other < v:
		case len(e) == 1:
			t.OpenEdges++
		case len(e) == 2:
			t.WrongWayEdges++
		default:
			t.NonManifoldEdges++
		}
	})
	return sound
}

// eachOf calls visit for every edge of those at a vertex with its half-edges, ascending.
func eachOf(edges []edgeRef, visit func([]edgeRef)) {
	long := len(edges) > 2*longRing
	if long {
		slices.SortFunc(edges, func(x, y edgeRef) int {
			return cmp.Or(cmp.Compare(x.other, y.other), cmp.Compare(x.half(), y.half()))
		})
	}
	for len(edges) > 0 {
		n := gatherEdge(edges, long)
		visit(edges[:n])
		edges = edges[n:]
	}
}

// gatherEdge moves the half-edges of the edge of b[0] to the front, in their
// order, and returns how many they are. In a sorted list they are there already.
func gatherEdge(b []edgeRef, sorted bool) int {
	n, other := 1, b[0].other
	for j := 1; j < len(b); j++ {
		if b[j].other == other {
			e := b[j]
			// A rotation by one keeps every edge's half-edges ascending.
			copy(b[n+1:j+1], b[n:j])
			b[n] = e
			n++
		} else if sorted {
			break
		}
	}
	return n
}

// eachEdge calls visit once for every edge with its half-edges, ascending, in
// an order that depends on the facets alone. visit must not keep the slice.
func (m *Mesh) eachEdge(visit func([]edgeRef)) {
	in := m.Incidence()
	var edges []edgeRef
	for v := range int32(len(m.Vertices)) {
		edges = m.edgesAt(in.Of(v), edges[:0])
		edges = slices.DeleteFunc(edges, func(e edgeRef) bool { return e.other < v })
		eachOf(edges, visit)
	}
}
