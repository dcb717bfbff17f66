package mesh

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

// Topology pairs the half-edges. It takes time and memory in proportion to the facets.
func (m *Mesh) Topology() *Topology {
	nh := 3 * len(m.Facets)
	t := &Topology{Twin: make([]int32, nh)}
	for i := range t.Twin {
		t.Twin[i] = None
	}
	// Half-edges in buckets by their lower vertex: an edge lies in one bucket whole.
	start := make([]int32, len(m.Vertices)+1)
	low := func(h int32) int32 { return min(m.Origin(h), m.Target(h)) }
	for h := int32(0); h < int32(nh); h++ {
		start[low(h)+1]++
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	bucket := make([]int32, nh)
	fill := append([]int32(nil), start[:len(start)-1]...)
	for h := int32(0); h < int32(nh); h++ {
		l := low(h)
		bucket[fill[l]] = h
		fill[l]++
	}
	var same []int32
	for v := range m.Vertices {
		b := bucket[start[v]:start[v+1]]
		for i, h := range b {
			if h == None {
				continue
			}
			high := max(m.Origin(h), m.Target(h))
			same = append(same[:0], h)
			for j := i + 1; j < len(b); j++ {
				if g := b[j]; g != None && max(m.Origin(g), m.Target(g)) == high {
					same = append(same, g)
					b[j] = None
				}
			}
			t.pair(m, same)
		}
	}
	return t
}

// pair enters the half-edges of one edge.
func (t *Topology) pair(m *Mesh, same []int32) {
	switch {
	case len(same) == 1:
		t.OpenEdges++
	case len(same) > 2:
		t.NonManifoldEdges++
	case m.Origin(same[0]) == m.Origin(same[1]):
		t.WrongWayEdges++
	default:
		t.Twin[same[0]], t.Twin[same[1]] = same[1], same[0]
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
	in := &Incidence{Start: make([]int32, len(m.Vertices)+1), Corners: make([]int32, 3*len(m.Facets))}
	for _, t := range m.Facets {
		for _, v := range t {
			in.Start[v+1]++
		}
	}
	for i := 1; i < len(in.Start); i++ {
		in.Start[i] += in.Start[i-1]
	}
	fill := append([]int32(nil), in.Start[:len(in.Start)-1]...)
	for f, t := range m.Facets {
		for k, v := range t {
			in.Corners[fill[v]] = int32(3*f + k)
			fill[v]++
		}
	}
	return in
}

// Of returns the corners around vertex v.
func (in *Incidence) Of(v int32) []int32 { return in.Corners[in.Start[v]:in.Start[v+1]] }
