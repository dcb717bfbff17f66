package bvh

import (
	"math/bits"
	"sync"
	"sync/atomic"

	"skinstock/mesh"
)

// lanes is how many boxes are measured at once.
const lanes = 8

// width is how many children a wide node has at most.
const width = 2 * lanes

// wideNode holds the boxes of up to sixteen children in steps of the box around
// all, rounded outwards. They lie along axes of the node's own. Below the lowest
// nodes are single facets.
type wideNode struct {
	lo, hi [3][width]uint8 // base + lo step to base + hi step along each axis
	axes   [3][3]float32   // axes[j][k] is what coordinate j counts along axis k
	base   [3]float32
	step   [3]float32
	first  int32 // of its children: nodes, or places in the leaves' order
	count  uint16
	facets bool // what the children are
}

// wide is the same hierarchy for many questions in a row, see Widen.
type wide struct {
	mu    sync.Mutex // while they are made
	nodes atomic.Pointer[[]wideNode]
}

// Widen prepares the tree for many calls of Closest and of rays, with up to the given
// number of goroutines (0: GOMAXPROCS), in a part of the time New takes and with
// some 20 bytes a facet, until Narrow. It lays sixteen boxes side by side where the
// processor measures eight at once, and does nothing where it cannot. Answers stay the same.
func (t *Tree) Widen(workers int) {
	if !hasLanes || len(t.id) <= width {
		return
	}
	t.wide.mu.Lock()
	defer t.wide.mu.Unlock()
	if t.wide.nodes.Load() != nil {
		return
	}
	w := t.widened(workers)
	mesh.InChunks(len(w.nodes), workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			w.fill(int32(i))
		}
	})
	t.wide.nodes.Store(&w.nodes)
}

// Narrow gives the memory of Widen back.
func (t *Tree) Narrow() { t.wide.nodes.Store(nil) }

// push adds the children of n that are met, but for the nearest, to those still to be
// visited, and returns it.
func push(stack []todo, n *wideNode, met uint32, d *[width]float32) (rest []todo, nearest int32) {
	near := bits.TrailingZeros32(met)
	for met &= met - 1; met != 0; met &= met - 1 {
		k := bits.TrailingZeros32(met)
		far := k
		if d[k] < d[near] {
			near, far = k, near
		}
		stack = append(stack, todo{n.first + int32(far), d[far]})
	}
	return stack, n.first + int32(near)
}

// pop takes out the last child within limit, and those behind it; -1 when there is none.
func pop(stack []todo, limit float32) (rest []todo, next int32) {
	for top := len(stack) - 1; top >= 0; top-- {
		if stack[top].d <= limit {
			return stack[:top], stack[top].child
		}
	}
	return stack, -1
}
