package field

import (
	"math"

	"github.com/golang/geo/r3"
)

// leafPanels is the most panels a leaf holds. Small leaves mean many far pairs, large
// ones many near entries to compute and keep; on 82k panels 32 took the least time of 32, 48 and 80.
const leafPanels = 32

// opening is the largest ratio of the radii of two groups to their distance at
// which they see each other through their expansions. With degree 10 the sums
// keep five digits.
const opening = 0.7

// node is a group of panels with consecutive numbers.
type node struct {
	lo, hi      int32 // panels
	left, right int32 // children, or 0 in a leaf
	parent      int32
	level       int32
	centre      r3.Vector
	reach       float64 // radius about the centre that holds every corner of its panels
	targets     float64 // radius that holds the points at which the potential is wanted
}

func (n *node) leaf() bool { return n.left == 0 }

// tree sorts panels into groups by halving at the median of the longest extent.
type tree struct {
	nodes  []node
	levels [][]int32 // nodes by level
	leaves []int32
	far    [][]int32 // per node: groups seen through expansions
	near   [][]int32 // per leaf, by node: leaves seen panel by panel, ascending
}

// halve reorders n things about the median of their longest extent and returns
// the number in the first half.
func halve(n int, at func(int) r3.Vector, swap func(i, j int)) int {
	lo, hi := at(0), at(0)
	for i := 1; i < n; i++ {
		v := at(i)
		lo = r3.Vector{X: math.Min(lo.X, v.X), Y: math.Min(lo.Y, v.Y), Z: math.Min(lo.Z, v.Z)}
		hi = r3.Vector{X: math.Max(hi.X, v.X), Y: math.Max(hi.Y, v.Y), Z: math.Max(hi.Z, v.Z)}
	}
	d := hi.Sub(lo)
	key := func(i int) float64 { return at(i).X }
	if d.Y > d.X && d.Y >= d.Z {
		key = func(i int) float64 { return at(i).Y }
	} else if d.Z > d.X {
		key = func(i int) float64 { return at(i).Z }
	}
	mid := n / 2
	quickselect(n, mid, key, swap)
	return mid
}

// quickselect puts the things with the mid smallest keys first. It has no
// random part, and splits runs of equal keys in the middle.
func quickselect(n, mid int, key func(int) float64, swap func(i, j int)) {
	lo, hi := 0, n-1
	for lo < hi {
		pivot := key(lo + (hi-lo)/2)
		i, j := lo, hi
		for i <= j {
			for key(i) < pivot {
				i++
			}
			for key(j) > pivot {
				j--
			}
			if i <= j {
				swap(i, j)
				i++
				j--
			}
		}
		if mid <= j {
			hi = j
		} else if mid >= i {
			lo = i
		} else {
			return
		}
	}
}

// newTree builds the tree and reorders the panels to its order.
func newTree(ps []panel) *tree {
	t := &tree{}
	t.split(ps, 0, len(ps), 0, 0)
	t.far = make([][]int32, len(t.nodes))
	t.near = make([][]int32, len(t.nodes))
	t.meet(0, 0)
	return t
}

// walls returns where the walls begin, which come after the part: a group of the
// large panels of a wall and the small ones of the part would be near to everything.
func walls(ps []panel) int {
	n := len(ps)
	for n > 0 && ps[n-1].wall >= 0 {
		n--
	}
	return n
}

func (t *tree) split(ps []panel, lo, hi int, parent, level int32) int32 {
	id := int32(len(t.nodes))
	nd := node{lo: int32(lo), hi: int32(hi), parent: parent, level: level}
	nd.bound(ps[lo:hi])
	t.nodes = append(t.nodes, nd)
	if int(level) == len(t.levels) {
		t.levels = append(t.levels, nil)
	}
	t.levels[level] = append(t.levels[level], id)
	if hi-lo <= leafPanels {
		t.leaves = append(t.leaves, id)
		return id
	}
	s := ps[lo:hi]
	h := walls(s)
	if h == 0 || h == len(s) {
		h = halve(len(s), func(i int) r3.Vector { return s[i].at }, func(i, j int) { s[i], s[j] = s[j], s[i] })
	}
	l := t.split(ps, lo, lo+h, id, level+1)
	r := t.split(ps, lo+h, hi, id, level+1)
	t.nodes[id].left, t.nodes[id].right = l, r
	return id
}

// bound sets the node's ball: the middle of the box of its corners, so that both radii stay small.
func (n *node) bound(ps []panel) {
	inf := math.Inf(1)
	lo, hi := r3.Vector{X: inf, Y: inf, Z: inf}, r3.Vector{X: -inf, Y: -inf, Z: -inf}
	each := func(do func(r3.Vector)) {
		for i := range ps {
			for k := range ps[i].pieces {
				q := &ps[i].pieces[k]
				do(q.a)
				do(q.b)
				do(q.c)
			}
		}
	}
	each(func(v r3.Vector) {
		lo = r3.Vector{X: math.Min(lo.X, v.X), Y: math.Min(lo.Y, v.Y), Z: math.Min(lo.Z, v.Z)}
		hi = r3.Vector{X: math.Max(hi.X, v.X), Y: math.Max(hi.Y, v.Y), Z: math.Max(hi.Z, v.Z)}
	})
	n.centre = lo.Add(hi).Mul(0.5)
	each(func(v r3.Vector) { n.reach = math.Max(n.reach, v.Sub(n.centre).Norm()) })
	for i := range ps {
		for _, c := range ps[i].tests {
			n.targets = math.Max(n.targets, c.at.Sub(n.centre).Norm())
		}
	}
}

// meet sorts out how the panels of node a are to see those of node b.
func (t *tree) meet(a, b int32) {
	na, nb := &t.nodes[a], &t.nodes[b]
	// The target's own reach bounds the error as well as its points do; the smaller radius lets more pairs pass.
	if d := na.centre.Sub(nb.centre).Norm(); na.targets+nb.reach < opening*d {
		t.far[a] = append(t.far[a], b)
		return
	}
	switch {
	case na.leaf() && nb.leaf():
		t.near[a] = append(t.near[a], b)
	case nb.leaf() || !na.leaf() && na.reach >= nb.reach:
		t.meet(na.left, b)
		t.meet(na.right, b)
	default:
		t.meet(a, nb.left)
		t.meet(a, nb.right)
	}
}
