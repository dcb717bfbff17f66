package mesh

import (
	"slices"

	"skinstock/mesh/disjoint"
)

// dropDuplicates leaves out facets that are there more than once.
//
// Two facets on the same corners that look opposite ways bound nothing and go
// both: bodies that touch there become one. But when that would leave an edge
// with a single facet, the pair is one facet of the surface and a copy turned
// over, and counts as a duplicate.
//
// Of duplicates one stays, unless the surface needs them all: two bodies may
// have a piece of surface in common, and there a facet left out would open a
// hole. So spare facets are taken in patches joined by edges, and a patch goes
// unless it leaves more edges with an odd number of facets than it mends. A
// whole shell that is there twice is such a patch.
func (b *builder) dropDuplicates() {
	m := b.m
	groups := b.equalFacets()
	if len(groups) == 0 {
		return
	}
	paired, spare := make([]bool, len(m.Facets)), make([]bool, len(m.Facets))
	for _, g := range groups {
		markPairs(m, g, paired)
	}
	b.keepNeeded(paired)
	for _, g := range groups {
		kept := false
		for _, f := range g {
			spare[f] = kept && !paired[f]
			kept = kept || !paired[f]
		}
	}
	b.keepUseful(spare)
	alone := b.standAlone(paired)
	dropped := 0
	for f := range spare {
		switch {
		case spare[f]:
			b.rep.note(MendDuplicate, 1, m.Centroid(f), 0)
		case alone[f]:
			b.rep.note(MendFlap, 1, m.Centroid(f), 0)
		case paired[f]:
			b.rep.note(MendInnerWall, 1, m.Centroid(f), 0)
		default:
			continue
		}
		spare[f] = true
		dropped++
	}
	if dropped > 0 {
		b.keep(spare)
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

// markPairs marks pairs of facets of group g that look opposite ways.
func markPairs(m *Mesh, g []int32, paired []bool) {
	var even, odd []int32
	for _, f := range g {
		if evenTurn(m.Facets[f]) {
			even = append(even, f)
		} else {
			odd = append(odd, f)
		}
	}
	for i := range min(len(even), len(odd)) {
		paired[even[i]], paired[odd[i]] = true, true
	}
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

// keepNeeded clears the marks of the patches of facets that would leave some
// edge with a single facet.
func (b *builder) keepNeeded(drop []bool) {
	b.judgePatches(drop, func(before, after int) int32 {
		if after == 1 {
			return 1
		}
		return 0
	})
}

// keepUseful clears the marks of the patches of facets that would leave more
// edges with an odd number of facets than before.
func (b *builder) keepUseful(drop []bool) {
	b.judgePatches(drop, func(before, after int) int32 { return int32(after%2 - before%2) })
}

// standAlone returns the marked facets whose patch touches no other facet at any edge.
func (b *builder) standAlone(marked []bool) []bool {
	alone := slices.Clone(marked)
	b.judgePatches(alone, func(before, after int) int32 { return int32(min(after, 1)) })
	return alone
}

// judgePatches clears the marks of those patches of marked facets, joined by
// edges, whose harm is positive: the sum over their edges of what harm makes of
// the number of facets before and after.
func (b *builder) judgePatches(drop []bool, harm func(before, after int) int32) {
	m := b.m
	patch := disjoint.New(len(m.Facets))
	sum := make([]int32, len(m.Facets)) // by facet, gathered by patch below
	m.eachEdge(func(e []edgeRef) {
		lead, after := None, 0
		for _, x := range e {
			f := x.half() / 3
			switch {
			case !drop[f]:
				after++
			case lead == None:
				lead = f
			default:
				patch.Join(lead, f)
			}
		}
		if lead != None {
			sum[lead] += harm(len(e), after)
		}
	})
	for f := range sum {
		if r := patch.Find(int32(f)); r != int32(f) {
			sum[r] += sum[f]
		}
	}
	for f := range drop {
		drop[f] = drop[f] && sum[patch.Find(int32(f))] <= 0
	}
}
