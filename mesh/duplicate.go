package mesh

import (
	"slices"

	"github.com/golang/geo/r3"
)

// dropDuplicates leaves out facets that are there twice. Two facets on the
// same corners that look opposite ways bound nothing and go both: bodies that
// touch there become one. Of facets that look the same way one stays, unless
// the surface needs them all: two bodies may share a place of their surfaces,
// and there a facet left out would open a hole. So extra facets are taken in
// patches joined by edges, and a patch goes only when no edge ends up with
// less balance (as many facets one way as the other) than it had. A whole shell
// that is there twice is such a patch.
func (b *builder) dropDuplicates() {
	m := b.m
	drop := make([]bool, len(m.Facets))
	extra := make([]bool, len(m.Facets))
	walls, extras := 0, 0
	for _, g := range b.equalFacets() {
		w := markPairs(m, g, drop)
		if w > 0 {
			b.rep.note(MendInnerWall, 2*w, m.centre(int(g[0])), 0)
			walls += w
		}
		first := true
		for _, f := range g {
			if drop[f] {
				continue
			}
			if !first {
				extra[f] = true
				extras++
			}
			first = false
		}
	}
	if walls > 0 {
		// Extra facets are numbered anew by keep.
		n := 0
		for f := range drop {
			if !drop[f] {
				extra[n] = extra[f]
				n++
			}
		}
		extra = extra[:n]
		b.keep(drop)
	}
	dropped := 0
	if extras > 0 {
		dropped = b.dropExtras(extra)
	}
	if walls+dropped > 0 {
		b.topo = m.Topology()
	}
}

// equalFacets returns the groups of facets on the same three vertices,
// ascending within a group and by first facet. Only facets at an edge without
// a proper pair, or paired with one facet all around, can be in a group.
func (b *builder) equalFacets() [][]int32 {
	m, twin := b.m, b.topo.Twin
	type keyed struct {
		key [3]int32
		f   int32
	}
	var cand []keyed
	for f, t := range m.Facets {
		p, q, r := twin[3*f], twin[3*f+1], twin[3*f+2]
		if p != None && q != None && r != None && !(p/3 == q/3 && q/3 == r/3) {
			continue
		}
		slices.Sort(t[:])
		cand = append(cand, keyed{t, int32(f)})
	}
	slices.SortFunc(cand, func(x, y keyed) int {
		if c := slices.Compare(x.key[:], y.key[:]); c != 0 {
			return c
		}
		return int(x.f) - int(y.f)
	})
	var groups [][]int32
	for i := 0; i < len(cand); {
		j := i + 1
		for j < len(cand) && cand[j].key == cand[i].key {
			j++
		}
		if j > i+1 {
			g := make([]int32, 0, j-i)
			for _, c := range cand[i:j] {
				g = append(g, c.f)
			}
			groups = append(groups, g)
		}
		i = j
	}
	slices.SortFunc(groups, func(x, y []int32) int { return int(x[0]) - int(y[0]) })
	return groups
}

// markPairs marks pairs of facets of group g that look opposite ways, and
// returns how many pairs.
func markPairs(m *Mesh, g []int32, drop []bool) int {
	var even, odd []int32
	for _, f := range g {
		if evenTurn(m.Facets[f]) {
			even = append(even, f)
		} else {
			odd = append(odd, f)
		}
	}
	n := min(len(even), len(odd))
	for i := range n {
		drop[even[i]], drop[odd[i]] = true, true
	}
	return n
}

// evenTurn tells whether t is its own ascending order turned around, not mirrored.
func evenTurn(t [3]int32) bool {
	n := 0
	if t[0] > t[1] {
		n++
	}
	if t[1] > t[2] {
		n++
	}
	if t[0] > t[2] {
		n++
	}
	return n%2 == 0
}

// dropExtras leaves out the patches of extra facets that the balance of the
// edges can spare, and returns the number of facets left out.
func (b *builder) dropExtras(extra []bool) int {
	m := b.m
	patch := newSets(len(m.Facets))
	worse := make([]int32, len(m.Facets)) // by facet, summed by patch below
	m.eachEdge(func(e []edgeRef) {
		lead, before, after := None, 0, 0
		for _, x := range e {
			way := 1
			if x.backward() {
				way = -1
			}
			before += way
			f := x.half() / 3
			if !extra[f] {
				after += way
				continue
			}
			if lead == None {
				lead = f
			}
			patch.join(lead, f)
		}
		if lead != None {
			worse[lead] += int32(abs(after) - abs(before))
		}
	})
	for f := range worse {
		if r := patch.find(int32(f)); r != int32(f) {
			worse[r] += worse[f]
		}
	}
	drop := make([]bool, len(m.Facets))
	n := 0
	var at r3.Vector
	for f := range extra {
		if extra[f] && worse[patch.find(int32(f))] <= 0 {
			if n == 0 {
				at = m.centre(f)
			}
			drop[f] = true
			n++
		}
	}
	b.rep.note(MendDuplicate, n, at, 0)
	if n > 0 {
		b.keep(drop)
	}
	return n
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// eachEdge calls visit once for every edge with its half-edges, ascending, in
// an order that depends on the facets alone. visit must not keep the slice.
func (m *Mesh) eachEdge(visit func([]edgeRef)) {
	start, edges := m.edgeBuckets()
	for v := range m.Vertices {
		b := edges[start[v]:start[v+1]]
		long := len(b) > longBucket
		if long {
			sortBucket(b)
		}
		for len(b) > 0 {
			n := gatherEdge(b, long)
			visit(b[:n])
			b = b[n:]
		}
	}
}

// sets are disjoint sets of numbers. The lowest member of a set stands for it.
type sets []int32

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

func (s sets) find(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

func (s sets) join(i, j int32) {
	i, j = s.find(i), s.find(j)
	if i < j {
		s[j] = i
	} else {
		s[i] = j
	}
}
