package bvh

import (
	"math"
	"sync"
)

const (
	leafMax   = 4       // facets in a leaf at most; 3 bits of a leaf's code
	binsMax   = 16      // bins of the surface-area heuristic
	fineBelow = 64      // ranges up to this size are split with care
	forkAbove = 1 << 14 // ranges above this size may go to another goroutine
	deepest   = 48      // below this depth ranges are halved, which bounds the depth by deepest + 32
)

// node holds the boxes of its two children: centre and half size, relative to the tree's origin.
// A child is the number of a node, or below zero the leaf ^(first<<3 | count).
type node struct {
	box   [2]box
	child [2]int32
	_     [2]int32 // fills a line of the cache
}

// box is centre (0-2) and half size (3-5).
type box [6]float32

func leafCode(first, count int) int32 { return ^int32(first<<3 | count) }

func leafRange(code int32) (first, end int32) {
	c := ^code
	first = c >> 3
	return first, first + c&7
}

// prim is a facet while the tree is built.
type prim struct {
	lo, hi [3]float32
	id     int32
}

// bounds is a box by its corners.
type bounds struct{ lo, hi [3]float32 }

var inf32 = float32(math.Inf(1))

func emptyBounds() bounds {
	return bounds{[3]float32{inf32, inf32, inf32}, [3]float32{-inf32, -inf32, -inf32}}
}

func (b *bounds) add(lo, hi *[3]float32) {
	for k := range 3 {
		b.lo[k], b.hi[k] = min(b.lo[k], lo[k]), max(b.hi[k], hi[k])
	}
}

// halfArea is half the surface of the box, 0 for an empty one.
func (b *bounds) halfArea() float32 {
	x, y, z := b.hi[0]-b.lo[0], b.hi[1]-b.lo[1], b.hi[2]-b.lo[2]
	if !(x >= 0) {
		return 0
	}
	return float32(x*y) + float32(y*z) + float32(z*x)
}

// padded returns centre and half size, larger by pad on all sides.
func (b *bounds) padded(pad float32) box {
	var r box
	for k := range 3 {
		c := 0.5*b.lo[k] + 0.5*b.hi[k]
		r[k] = c
		r[3+k] = max(b.hi[k]-c, c-b.lo[k]) + pad
	}
	return r
}

// builder splits ranges of prims. The result is the same whichever goroutine takes which range.
type builder struct {
	prims []prim
	pad   float32
	idle  chan struct{} // one token a goroutine that may be started
}

// subtree is a part of the tree: the nodes of both sides and the join above
// them, or just nodes.
type subtree struct {
	root        node
	left, right *subtree
	nodes       []node // when left is nil
}

// build returns the nodes in depth-first order, the root first.
func (b *builder) build(all bounds) []node {
	n := len(b.prims)
	if n <= leafMax {
		return []node{soleNode(&all, n, b.pad)}
	}
	top := &subtree{}
	b.fork(top, 0, n, all.doubled(), 0)
	nodes := make([]node, 0, top.size())
	return top.flatten(nodes)
}

// soleNode is the root above n facets that fit in one leaf; its other side is empty.
func soleNode(all *bounds, n int, pad float32) node {
	none := bounds{[3]float32{1, 1, 1}, [3]float32{-1, -1, -1}}
	return node{box: [2]box{all.padded(pad), none.padded(-1e30)}, child: [2]int32{leafCode(0, n), leafCode(0, 0)}}
}

// fork builds the range [lo,hi) into s, its right part in another goroutine when
// one is free, and returns the box around it. cell holds all centres, doubled.
func (b *builder) fork(s *subtree, lo, hi int, cell bounds, depth int) bounds {
	if hi-lo <= forkAbove {
		s.nodes = make([]node, 0, (hi-lo)/2)
		return b.grow(&s.nodes, lo, hi, cell, depth)
	}
	mid, left, right := b.middle(lo, hi, cell, depth)
	var around [2]bounds
	var wg sync.WaitGroup
	s.left, s.right = &subtree{}, &subtree{}
	s.root.child = [2]int32{b.leaf(lo, mid), b.leaf(mid, hi)}
	runLeft := func() { around[0] = b.side(s.left, lo, mid, left, depth+1) }
	runRight := func() { around[1] = b.side(s.right, mid, hi, right, depth+1) }
	select {
	case <-b.idle:
		wg.Go(func() {
			runRight()
			b.idle <- struct{}{}
		})
	default:
		runRight()
	}
	runLeft()
	wg.Wait()
	return s.root.over(around, b.pad)
}

// side is fork, or nothing for what is a leaf.
func (b *builder) side(s *subtree, lo, hi int, cell bounds, depth int) bounds {
	if hi-lo <= leafMax {
		return b.around(lo, hi)
	}
	return b.fork(s, lo, hi, cell, depth)
}

// leaf returns the leaf's code when the range is small enough for one, else 0.
func (b *builder) leaf(lo, hi int) int32 {
	if hi-lo <= leafMax {
		return leafCode(lo, hi-lo)
	}
	return 0
}

// grow appends the nodes of the range, which is larger than a leaf, and returns the box around it.
func (b *builder) grow(nodes *[]node, lo, hi int, cell bounds, depth int) bounds {
	var mid int
	var around [2]bounds // of the two parts; their cells in large ranges
	fine := hi-lo <= fineBelow
	if fine {
		mid, around[0], around[1] = b.split(lo, hi, depth)
	} else {
		mid, around[0], around[1] = b.middle(lo, hi, cell, depth)
	}
	i := len(*nodes)
	*nodes = append(*nodes, node{child: [2]int32{b.leaf(lo, mid), b.leaf(mid, hi)}})
	for k, r := range [2][2]int{{lo, mid}, {mid, hi}} {
		switch {
		case (*nodes)[i].child[k] >= 0:
			(*nodes)[i].child[k] = int32(len(*nodes))
			around[k] = b.grow(nodes, r[0], r[1], around[k], depth+1)
		case !fine:
			around[k] = b.around(r[0], r[1])
		}
	}
	return (*nodes)[i].over(around, b.pad)
}

// over sets the boxes of a node and returns the box around both.
func (n *node) over(around [2]bounds, pad float32) bounds {
	n.box = [2]box{around[0].padded(pad), around[1].padded(pad)}
	around[0].add(&around[1].lo, &around[1].hi)
	return around[0]
}

func (s *subtree) size() int {
	if s.left == nil {
		return len(s.nodes)
	}
	return 1 + s.left.size() + s.right.size()
}

// flatten appends the nodes depth first and renumbers the children.
func (s *subtree) flatten(to []node) []node {
	if s.left == nil {
		base := int32(len(to))
		for _, n := range s.nodes {
			for i, c := range n.child {
				if c >= 0 {
					n.child[i] = c + base
				}
			}
			to = append(to, n)
		}
		return to
	}
	i := len(to)
	to = append(to, s.root)
	for k, c := range [2]*subtree{s.left, s.right} {
		if s.root.child[k] >= 0 {
			to[i].child[k] = int32(len(to))
			to = c.flatten(to)
		}
	}
	return to
}
