package bvh

import "skinstock/mesh"

// Replaced returns the tree of a mesh most of whose facets are those of t's: t's
// hierarchy with new facets in the leaves of those that they took the place of, in
// a part of the time New takes. Facet g of m is facet of[g] of t's mesh or one of
// those that stand for it, or near it; of ascends. It answers as New's does, and shares no
// memory with t. m must not change while the tree is used.
func (t *Tree) Replaced(m *mesh.Mesh, of []int32, workers int) *Tree {
	u := &Tree{m: m, origin: t.origin, reach: t.reach, pad: t.pad, in: &lazyIncidence{}, wide: &wide{}}
	if len(t.id) <= leafMax || !u.within() {
		return New(m, workers)
	}
	r := &replacer{t: t, u: u, start: make([]int32, len(t.id)+1)}
	for _, f := range of {
		r.start[f+1]++
	}
	for f := range t.id {
		r.start[f+1] += r.start[f]
	}
	u.nodes = make([]node, 0, len(t.nodes)+len(t.nodes)/64)
	u.id = make([]int32, 0, len(of))
	if p := r.below(part{child: 0}); len(u.nodes) == 0 || p.child != 0 {
		return New(m, workers)
	}
	u.order(workers)
	return u
}

// replacer lays out the nodes of u, depth first, along those of t.
type replacer struct {
	t, u  *Tree
	start []int32 // per facet of t's mesh: the first facet in its place
	list  []int32
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
	n, at := r.t.nodes[p.child], len(r.u.nodes)
	r.u.nodes = append(r.u.nodes, node{})
	left := r.below(part{box: n.box[0], child: n.child[0]})
	if left.empty {
		r.u.nodes = r.u.nodes[:at]
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
	r.u.nodes[at] = node{box: [2]box{left.box, right.box}, child: [2]int32{left.child, right.child}}
	p.child = int32(at)
	if left.changed || right.changed {
		p.box, p.changed = left.box.with(&right.box), true
	}
	return p
}

// close takes the node at out, which has only what follows it below.
func (r *replacer) close(at int) {
	nodes := r.u.nodes
	copy(nodes[at:], nodes[at+1:])
	nodes = nodes[:len(nodes)-1]
	for i := at; i < len(nodes); i++ {
		for k, c := range nodes[i].child {
			if c >= 0 {
				nodes[i].child[k]--
			}
		}
	}
	r.u.nodes = nodes
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
	first := len(r.u.id)
	switch n := len(r.list); {
	case n == 0:
		return part{empty: true}
	case n > leafMax:
		return r.grow()
	default:
		r.u.id = append(r.u.id, r.list...)
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
	base, first := int32(len(r.u.nodes)), len(r.u.id)
	for _, n := range b.build(all) {
		for k, c := range n.child {
			if c >= 0 {
				n.child[k] = c + base
			} else {
				lo, hi := leafRange(c)
				n.child[k] = leafCode(first+int(lo), int(hi-lo))
			}
		}
		r.u.nodes = append(r.u.nodes, n)
	}
	for i := range b.prims {
		r.u.id = append(r.u.id, b.prims[i].id)
	}
	return part{box: all.padded(r.u.pad), child: base, changed: true}
}
