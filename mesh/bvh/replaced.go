package bvh

import (
	"context"
	"runtime"

	"skinstock/mesh"
)

// Replaced returns the tree of a mesh most of whose facets are those of t's: t's
// hierarchy with new facets in the leaves of those that they took the place of, in
// a part of the time New takes. Facet g of m is facet of[g] of t's mesh or one of
// those that stand for it, or near it; of ascends. It answers as New's does, and shares no
// memory with t. m must not change while the tree is used.
func (t *Tree) Replaced(m *mesh.Mesh, of []int32, workers int) *Tree {
	u := t.layOut(m, of, workers)
	if u == nil {
		return New(m, workers)
	}
	u.order(workers)
	return u
}

// Replace makes t the tree of m, as Replaced, without two whole trees in memory.
// Nobody else may use t meanwhile.
func (t *Tree) Replace(m *mesh.Mesh, of []int32, workers int) {
	u := t.layOut(m, of, workers)
	if *t = (Tree{}); u == nil {
		*t = *New(m, workers)
		return
	}
	*t = *u
	t.order(workers)
}

// layOut returns the tree of Replaced with no more than nodes and numbers of
// facets, nil where t is of no use for it.
func (t *Tree) layOut(m *mesh.Mesh, of []int32, workers int) *Tree {
	u := &Tree{m: m, origin: t.origin, reach: t.reach, pad: t.pad, in: &lazyIncidence{}, lay: &layout{}, wide: &wide{}}
	if len(t.id) <= leafMax || !u.within() {
		return nil
	}
	start := make([]int32, len(t.id)+1)
	for _, f := range of {
		start[f+1]++
	}
	for f := range t.id {
		start[f+1] += start[f]
	}
	r := &replacer{t: t, u: u, start: start}
	r.divide(workers)
	r.nodes = make([]node, 0, len(t.nodes)+len(t.nodes)/64)
	r.id = make([]int32, 0, len(of))
	if p := r.below(part{child: 0}); len(r.nodes) == 0 || p.child != 0 {
		return nil
	}
	u.nodes, u.id = r.nodes, r.id
	return u
}

// replacer lays out the nodes of u, depth first, along those of t, or a part of them.
type replacer struct {
	t, u  *Tree
	start []int32 // per facet of t's mesh: the first facet in its place
	list  []int32

	nodes []node  // laid out so far
	id    []int32 // likewise, in the order of the leaves

	from    []int32    // nodes of t whose parts are laid out side by side, ascending, from the next one on
	helpers []replacer // who lay them out, some at a time
	done    []laidOut  // what they have laid out and nobody has taken
}

// laidOut is what takes the place of a node of t and of all below it.
type laidOut struct {
	nodes []node
	id    []int32
	root  part
}

// partsAtOnce is how many parts of the tree are laid out, for each worker, before they
// are put together: all at once would take the memory of another tree.
const partsAtOnce = 4

// divide divides the tree into parts that can be laid out side by side.
func (r *replacer) divide(workers int) {
	ranges, _ := r.t.parts(max(1<<10, len(r.t.nodes)/64))
	r.from = make([]int32, len(ranges))
	for i := range ranges {
		r.from[i] = ranges[i][0]
	}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	r.helpers = make([]replacer, partsAtOnce*workers)
	for i := range r.helpers {
		r.helpers[i] = replacer{t: r.t, u: r.u, start: r.start}
	}
}

// layOutNext lays out the next parts.
func (r *replacer) layOutNext() {
	n := min(len(r.helpers), len(r.from))
	r.done = make([]laidOut, n)
	_ = inChunks(context.Background(), n, 1, len(r.helpers)/partsAtOnce, func(i, _ int) error {
		q := &r.helpers[i]
		q.nodes, q.id = q.nodes[:0], q.id[:0]
		root := q.below(part{child: r.from[i]})
		r.done[i] = laidOut{q.nodes, q.id, root}
		return nil
	})
}

// add appends nodes whose leaves are of the facets in id, and returns what has become of a child among them.
func (r *replacer) add(nodes []node, id []int32, child int32) int32 {
	base, first := int32(len(r.nodes)), len(r.id)
	moved := func(c int32) int32 {
		if c >= 0 {
			return c + base
		}
		lo, hi := leafRange(c)
		return leafCode(first+int(lo), int(hi-lo))
	}
	for _, n := range nodes {
		n.child = [2]int32{moved(n.child[0]), moved(n.child[1])}
		r.nodes = append(r.nodes, n)
	}
	r.id = append(r.id, id...)
	return moved(child)
}

// part is what lies below a side of a node.
type part struct {
	box     box
	child   int32
	changed bool // the box, or what is below
	empty   bool
}

// below lays out what takes the place of a part of t.
func (r *replacer) below(p part) part {
	if p.child < 0 {
		return r.leaf(p)
	}
	if len(r.from) > 0 && p.child == r.from[0] {
		return r.take(p)
	}
	n, at := r.t.nodes[p.child], len(r.nodes)
	r.nodes = append(r.nodes, node{})
	left := r.below(part{box: n.box[0], child: n.child[0]})
	if left.empty {
		r.nodes = r.nodes[:at]
	}
	right := r.below(part{box: n.box[1], child: n.child[1]})
	switch {
	case left.empty:
		right.changed = true
		return right
	case right.empty:
		r.close(at)
		if left.changed = true; left.child >= 0 {
			left.child--
		}
		return left
	}
	r.nodes[at] = node{box: [2]box{left.box, right.box}, child: [2]int32{left.child, right.child}}
	p.child = int32(at)
	if left.changed || right.changed {
		p.box, p.changed = left.box.with(&right.box), true
	}
	return p
}

// take puts in a part that a helper has laid out.
func (r *replacer) take(p part) part {
	if len(r.done) == 0 {
		r.layOutNext()
	}
	l := &r.done[0]
	q := l.root
	if !q.empty {
		q.child = r.add(l.nodes, l.id, q.child)
	}
	if !q.changed {
		q.box = p.box
	}
	r.from, r.done = r.from[1:], r.done[1:]
	return q
}

// close takes the node at out, which has only what follows it below.
func (r *replacer) close(at int) {
	nodes := r.nodes
	copy(nodes[at:], nodes[at+1:])
	nodes = nodes[:len(nodes)-1]
	for i := at; i < len(nodes); i++ {
		for k, c := range nodes[i].child {
			if c >= 0 {
				nodes[i].child[k]--
			}
		}
	}
	r.nodes = nodes
}

// leaf lays out the facets in the places of a leaf's.
func (r *replacer) leaf(p part) part {
	i, end := leafRange(p.child)
	r.list = r.list[:0]
	for ; i < end; i++ {
		lo, hi := r.start[r.t.id[i]], r.start[r.t.id[i]+1]
		for g := lo; g < hi; g++ {
			r.list = append(r.list, g)
		}
		p.changed = p.changed || hi-lo != 1 || !r.stands(i, lo)
	}
	first := len(r.id)
	switch n := len(r.list); {
	case n == 0:
		return part{empty: true}
	case n > leafMax:
		return r.grow()
	default:
		r.id = append(r.id, r.list...)
		p.child = leafCode(first, n)
	}
	if p.changed {
		all := emptyBounds()
		for _, g := range r.list {
			q := r.u.prim(g)
			all.add(&q.lo, &q.hi)
		}
		p.box = all.padded(r.u.pad)
	}
	return p
}

// stands tells whether facet g of u's mesh has the corners of the one at place i of t's.
func (r *replacer) stands(i, g int32) bool {
	for k, w := range r.t.tri[i] {
		if r.t.v[w] != r.u.m.Vertices[r.u.m.Facets[g][k]] {
			return false
		}
	}
	return true
}

// grow lays out a tree of the listed facets, which are more than a leaf holds.
func (r *replacer) grow() part {
	b := &builder{prims: make([]prim, len(r.list)), pad: r.u.pad}
	all := emptyBounds()
	for i, g := range r.list {
		b.prims[i] = r.u.prim(g)
		all.add(&b.prims[i].lo, &b.prims[i].hi)
	}
	nodes := b.build(all)
	for i := range b.prims {
		r.list[i] = b.prims[i].id
	}
	return part{box: all.padded(r.u.pad), child: r.add(nodes, r.list, 0), changed: true}
}
