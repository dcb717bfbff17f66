package mesh

import "slices"

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
func (m *Mesh) Topology() *Topology {
	t := &Topology{Twin: make([]int32, 3*len(m.Facets))}
	start, edges := m.edgeBuckets()
	parts := make([]Topology, (len(m.Vertices)+Chunk-1)/Chunk)
	InChunks(len(m.Vertices), 0, func(lo, hi int) {
		p := Topology{Twin: t.Twin}
		for v := lo; v < hi; v++ {
			p.pairBucket(edges[start[v]:start[v+1]])
		}
		parts[lo/Chunk] = p
	})
	for _, p := range parts {
		t.OpenEdges += p.OpenEdges
		t.NonManifoldEdges += p.NonManifoldEdges
		t.WrongWayEdges += p.WrongWayEdges
	}
	return t
}

// edgeRef is one half-edge in the bucket of its lower vertex: the higher
// vertex, and twice the half-edge plus one when it runs from high to low.
type edgeRef struct {
	high int32
	code uint32
}

func (e edgeRef) half() int32    { return int32(e.code >> 1) }
func (e edgeRef) backward() bool { return e.code&1 != 0 }

// edgeBuckets sorts the half-edges into buckets by their lower vertex, so that
// each edge lies in one bucket whole; bucket v is edges[start[v]:start[v+1]],
// ascending by half-edge.
func (m *Mesh) edgeBuckets() (start []int32, edges []edgeRef) {
	start = make([]int32, len(m.Vertices)+2)
	for _, t := range m.Facets {
		start[min(t[0], t[1])+2]++
		start[min(t[1], t[2])+2]++
		start[min(t[2], t[0])+2]++
	}
	for i := 3; i < len(start); i++ {
		start[i] += start[i-1]
	}
	edges = make([]edgeRef, 3*len(m.Facets))
	for f, t := range m.Facets {
		a := t[0]
		for k := range 3 {
			b := t[(k+1)%3]
			code := uint32(3*f+k) << 1
			low, high := a, b
			if a > b {
				low, high, code = b, a, code|1
			}
			// start[low+1] is the next free place of bucket low, and has
			// become the start of bucket low+1 when all are in.
			edges[start[low+1]] = edgeRef{high, code}
			start[low+1]++
			a = b
		}
	}
	return start[:len(start)-1], edges
}

// longBucket is the number of half-edges from which a bucket is sorted before
// it is searched, so that the hub of a large fan does not cost the square of its facets.
const longBucket = 24

// pairBucket pairs the half-edges of one bucket, and reorders it.
func (t *Topology) pairBucket(b []edgeRef) {
	long := len(b) > longBucket
	if long {
		sortBucket(b)
	}
	for len(b) > 0 {
		n := gatherEdge(b, long)
		t.pair(b[:n])
		b = b[n:]
	}
}

// sortBucket sorts by the higher vertex, then by half-edge.
func sortBucket(b []edgeRef) {
	slices.SortFunc(b, func(x, y edgeRef) int {
		if x.high != y.high {
			return int(x.high) - int(y.high)
		}
		return int(x.code>>1) - int(y.code>>1)
	})
}

// gatherEdge moves the half-edges of the edge of b[0] to the front, in their
// order, and returns how many they are. In a sorted bucket they are there already.
func gatherEdge(b []edgeRef, sorted bool) int {
	n, high := 1, b[0].high
	for j := 1; j < len(b); j++ {
		if b[j].high == high {
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

// pair enters the half-edges of one edge.
func (t *Topology) pair(e []edgeRef) {
	if len(e) == 2 && e[0].backward() != e[1].backward() {
		a, b := e[0].half(), e[1].half()
		t.Twin[a], t.Twin[b] = b, a
		return
	}
	for i := range e {
		t.Twin[e[i].half()] = None
	}
	switch {
	case len(e) == 1:
		t.OpenEdges++
	case len(e) == 2:
		t.WrongWayEdges++
	default:
		t.NonManifoldEdges++
	}
}

// Incidence lists the corners (numbers 3*f+k) around every vertex: those of
// vertex v are Corners[Start[v]:Start[v+1]], ascending.
type Incidence struct {
	Start   []int32 // len(Vertices)+1
	Corners []int32 // 3*len(Facets)
}

// Incidence returns the corners around every vertex.
func (m *Mesh) Incidence() *Incidence {
	start := make([]int32, len(m.Vertices)+2)
	for _, t := range m.Facets {
		start[t[0]+2]++
		start[t[1]+2]++
		start[t[2]+2]++
	}
	for i := 3; i < len(start); i++ {
		start[i] += start[i-1]
	}
	in := &Incidence{Start: start[:len(m.Vertices)+1], Corners: make([]int32, 3*len(m.Facets))}
	for f, t := range m.Facets {
		for k, v := range t {
			// start[v+1] is the next free place of v until all are in.
			in.Corners[start[v+1]] = int32(3*f + k)
			start[v+1]++
		}
	}
	return in
}

// Of returns the corners around vertex v.
func (in *Incidence) Of(v int32) []int32 { return in.Corners[in.Start[v]:in.Start[v+1]] }
