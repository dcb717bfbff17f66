package mesh

import "skinstock/mesh/disjoint"

// alignWinding turns facets so that the two facets of every edge run opposite
// ways. Facets are taken together as far as edges of two facets lead; within
// such a group the side with more area stays as it is. A group that has one
// side only (a Moebius band) keeps its wrong-way edges.
func (b *builder) alignWinding() {
	if b.topo.WrongWayEdges == 0 {
		return
	}
	m := b.m
	s := newParitySets(len(m.Facets))
	m.eachEdge(func(e []edgeRef) {
		if len(e) == 2 {
			s.join(e[0].half()/3, e[1].half()/3, e[0].backward() == e[1].backward())
		}
	})
	// Area by group of the facets that run with its representative, less that of the others.
	lead := make([]float64, len(m.Facets))
	for f := range m.Facets {
		r, odd := s.find(int32(f))
		if odd {
			lead[r] -= m.FacetArea(f)
		} else {
			lead[r] += m.FacetArea(f)
		}
	}
	for f := range m.Facets {
		r, odd := s.find(int32(f))
		if odd == (lead[r] >= 0) && !s.torn[r] {
			m.turn(f)
			b.rep.note(MendWinding, 1, m.Centroid(f), 0)
		}
	}
	b.topo = m.Topology()
}

// turn reverses facet f; corner 0 stays first.
func (m *Mesh) turn(f int) {
	t := &m.Facets[f]
	t[1], t[2] = t[2], t[1]
}

// paritySets are disjoint sets whose members know whether they run with the
// representative or against it.
type paritySets struct {
	up   []int32
	odd  []bool // against up
	torn []bool // by representative: some join contradicted the others
	rank []uint8
}

func newParitySets(n int) *paritySets {
	return &paritySets{up: disjoint.New(n), odd: make([]bool, n), torn: make([]bool, n), rank: make([]uint8, n)}
}

// find returns the representative of i, and whether i runs against it.
func (s *paritySets) find(i int32) (root int32, odd bool) {
	root = i
	for s.up[root] != root {
		odd = odd != s.odd[root]
		root = s.up[root]
	}
	// Second pass: hang the whole path below the root.
	for o := odd; s.up[i] != root && i != root; {
		next, was := s.up[i], s.odd[i]
		s.up[i], s.odd[i] = root, o
		i, o = next, o != was
	}
	return root, odd
}

// join puts i and j into one set, running against each other when odd.
func (s *paritySets) join(i, j int32, odd bool) {
	ri, oi := s.find(i)
	rj, oj := s.find(j)
	turn := odd != (oi != oj)
	if ri == rj {
		s.torn[ri] = s.torn[ri] || turn
		return
	}
	if s.rank[ri] < s.rank[rj] {
		ri, rj = rj, ri
	}
	if s.rank[ri] == s.rank[rj] {
		s.rank[ri]++
	}
	s.up[rj], s.odd[rj] = ri, turn
	s.torn[ri] = s.torn[ri] || s.torn[rj]
}
