package region

import (
	"cmp"
	"container/heap"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// patches are the connected runs of facets of one skin. A patch is named by
// the root of a union-find tree over facets. Areas and border lengths are
// summed as whole numbers, so that no sum depends on the order of its terms.
type patches struct {
	m    *mesh.Mesh
	topo *mesh.Topology
	s    *Sorting

	parent  []int32
	area    []uint64         // of a root, in units of areaUnit
	first   []int32          // of a root: its facet that comes first in space
	borders map[int32][]edge // of a root that may still join another

	least uint64 // area from which a patch stays as it is

	areaUnit, lengthUnit float64 // powers of two, mm2 and mm
}

// edge is a stretch of border towards the patch that holds facet to.
type edge struct {
	to     int32
	length uint64
}

// newPatches joins neighbouring facets of equal skin.
func newPatches(m *mesh.Mesh, topo *mesh.Topology, s *Sorting) *patches {
	n := len(m.Facets)
	p := &patches{m: m, topo: topo, s: s, parent: make([]int32, n), area: make([]uint64, n), first: make([]int32, n)}
	lo, hi := m.Bounds()
	d := hi.Sub(lo).Norm()
	p.areaUnit = unitFor(d*d, n)
	p.lengthUnit = unitFor(d, 3*n)
	mesh.InChunks(n, 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			p.parent[f], p.first[f] = int32(f), int32(f)
			p.area[f] = uint64(math.RoundToEven(m.FacetArea(f) / p.areaUnit))
		}
	})
	mesh.JoinBefore(n, func(f, lo, hi int) {
		for _, t := range topo.Twin[3*f : 3*f+3] {
			if g := int(t / 3); t != mesh.None && g >= lo && g < hi && s.Skin[f] == s.Skin[g] {
				p.union(p.find(int32(f)), p.find(int32(g)))
			}
		}
	})
	return p
}

// unitFor returns a power of two of which n sizes up to most count into 63 bits.
func unitFor(most float64, n int) float64 {
	_, e := math.Frexp(most * float64(n))
	return math.Ldexp(1, e-62)
}

// find returns the root of facet f.
func (p *patches) find(f int32) int32 {
	for p.parent[f] != f {
		p.parent[f] = p.parent[p.parent[f]]
		f = p.parent[f]
	}
	return f
}

// union hangs root b below root a and returns the root of both.
func (p *patches) union(a, b int32) int32 {
	if a == b {
		return a
	}
	if p.area[a] < p.area[b] {
		a, b = b, a
	}
	p.parent[b] = a
	p.area[a] += p.area[b]
	if p.before(p.first[b], p.first[a]) {
		p.first[a] = p.first[b]
	}
	return a
}

// before orders facets by their corners in space, so that ties do not hang on
// the order of the facets.
func (p *patches) before(f, g int32) bool {
	if f == g {
		return false
	}
	if x, y := p.leastX(f), p.leastX(g); x != y {
		return x < y
	}
	s, t := p.sorted(f), p.sorted(g)
	for k := range s {
		if c := s[k].Cmp(t[k]); c != 0 {
			return c < 0
		}
	}
	return false
}

// leastX returns the least x of the corners of facet f, that of sorted(f)[0].
func (p *patches) leastX(f int32) float64 {
	t := p.m.Facets[f]
	return min(p.m.Vertices[t[0]].X, p.m.Vertices[t[1]].X, p.m.Vertices[t[2]].X)
}

// sorted returns the corners of facet f in order of x, y, z.
func (p *patches) sorted(f int32) [3]r3.Vector {
	a, b, c := p.m.Triangle(int(f))
	if b.Cmp(a) < 0 {
		a, b = b, a
	}
	if c.Cmp(b) < 0 {
		b, c = c, b
	}
	if b.Cmp(a) < 0 {
		a, b = b, a
	}
	return [3]r3.Vector{a, b, c}
}

// island is a patch in the queue, with the area it had when it was put there.
type island struct {
	root, first int32
	area        uint64
	skin        Skin
}

// queue is a heap of islands: those without a skin first, then the smallest.
type queue struct {
	p *patches
	q []island
}

func (q *queue) Len() int      { return len(q.q) }
func (q *queue) Swap(i, j int) { q.q[i], q.q[j] = q.q[j], q.q[i] }
func (q *queue) Push(x any)    { q.q = append(q.q, x.(island)) }
func (q *queue) Pop() any {
	x := q.q[len(q.q)-1]
	q.q = q.q[:len(q.q)-1]
	return x
}

func (q *queue) Less(i, j int) bool {
	a, b := q.q[i], q.q[j]
	if (a.skin == unknown) != (b.skin == unknown) {
		return a.skin == unknown
	}
	if a.area != b.area {
		return a.area < b.area
	}
	return q.p.before(a.first, b.first)
}

// merge lets every patch without a skin, then every patch smaller than
// leastMM2, smallest first, join the neighbour with which it shares the
// longest border. Platform contact is a place, not speckle: it neither joins
// nor is joined, except by facets of no area.
func (p *patches) merge(leastMM2 float64) {
	p.least = uint64(leastMM2 / p.areaUnit)
	q := &queue{p: p}
	p.borders = map[int32][]edge{}
	for f := range p.parent {
		if r := int32(f); p.parent[r] == r && p.small(r) {
			p.borders[r] = nil
			q.q = append(q.q, island{r, p.first[r], p.area[r], p.s.Skin[r]})
		}
	}
	if len(q.q) == 0 {
		return
	}
	p.collectBorders()
	heap.Init(q)
	for q.Len() > 0 {
		i := heap.Pop(q).(island)
		if p.find(i.root) != i.root || p.area[i.root] != i.area || p.s.Skin[i.root] != i.skin {
			continue // grown or joined since; queued anew if it still matters
		}
		if r, ok := p.join(i.root); ok && p.small(r) {
			heap.Push(q, island{r, p.first[r], p.area[r], p.s.Skin[r]})
		}
	}
	for f := range p.parent {
		r := p.find(int32(f))
		if p.s.Skin[f] = p.s.Skin[r]; p.s.Skin[f] == unknown {
			p.s.Skin[f] = Vertical // alone, without a normal or a neighbour
		}
	}
}

// small tells whether the patch of root r has to join another.
func (p *patches) small(r int32) bool {
	k := p.s.Skin[r]
	return k == unknown || p.area[r] < p.least && k != Platform
}

// collectBorders lists the borders of the patches that may join another.
func (p *patches) collectBorders() {
	for f := range p.m.Facets {
		r := p.find(int32(f))
		if !p.small(r) {
			continue
		}
		for k, g := range p.topo.Twin[3*f : 3*f+3] {
			if g == mesh.None || p.find(g/3) == r {
				continue
			}
			l := p.m.Corner(f, k).Distance(p.m.Corner(f, (k+1)%3))
			p.borders[r] = append(p.borders[r], edge{p.find(g / 3), uint64(math.RoundToEven(l / p.lengthUnit))})
		}
	}
}

// join lets the patch of root r take the skin of the neighbour with the
// longest border, and unites it with all neighbours of that skin. It returns
// the new root, or false when r has no neighbour to join.
func (p *patches) join(r int32) (int32, bool) {
	around := p.neighbours(r)
	target := p.longest(r, around)
	if target == mesh.None {
		return r, false
	}
	skin := p.s.Skin[target]
	if p.s.Skin[r] != unknown {
		p.s.Islands++
		p.s.IslandAreaMM2 += float64(p.area[r]) * p.areaUnit
	}
	p.s.Skin[r] = skin
	root, rest := r, around[:0:0]
	for _, e := range around {
		if p.s.Skin[e.to] != skin {
			rest = append(rest, e)
			continue
		}
		rest = append(rest, p.borders[e.to]...)
		delete(p.borders, e.to)
		root = p.union(root, e.to)
	}
	delete(p.borders, r)
	p.s.Skin[root] = skin
	if p.small(root) {
		p.borders[root] = rest
	}
	return root, true
}

// neighbours returns the borders of root r, one entry a neighbouring patch.
func (p *patches) neighbours(r int32) []edge {
	b := p.borders[r]
	for i := range b {
		b[i].to = p.find(b[i].to)
	}
	slices.SortFunc(b, func(x, y edge) int { return cmp.Compare(x.to, y.to) })
	out := b[:0]
	for _, e := range b {
		switch {
		case e.to == r:
		case len(out) > 0 && out[len(out)-1].to == e.to:
			out[len(out)-1].length += e.length
		default:
			out = append(out, e)
		}
	}
	p.borders[r] = out
	return out
}

// longest returns the neighbour that root r joins, or mesh.None. Ties go to
// the larger patch, then to the one that comes first in space.
func (p *patches) longest(r int32, around []edge) int32 {
	best := edge{to: mesh.None}
	for _, e := range around {
		k := p.s.Skin[e.to]
		if k == unknown || k == Platform && p.s.Skin[r] != unknown {
			continue
		}
		if best.to == mesh.None || e.length > best.length || e.length == best.length &&
			(p.area[e.to] > p.area[best.to] || p.area[e.to] == p.area[best.to] && p.before(p.first[e.to], p.first[best.to])) {
			best = e
		}
	}
	return best.to
}
