package bvh

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// widener makes the wide nodes of a tree.
type widener struct {
	t     *Tree
	nodes []wideNode
	side  []int32    // of the tree, that each node is below; the root is below none
	span  [][2]int32 // of the leaves' order below each node
}

// widened lays out the wide nodes, still without boxes.
func (t *Tree) widened(workers int) *widener {
	under := make([][2]int32, len(t.nodes)) // of the leaves' order below each node of the tree
	below := func(child int32) (r [2]int32) {
		if child >= 0 {
			return under[child]
		}
		r[0], r[1] = leafRange(child)
		return r
	}
	t.upwards(workers, func(i int32) {
		c := t.nodes[i].child
		under[i] = [2]int32{below(c[0])[0], below(c[1])[1]}
	})
	w := &widener{t: t}
	add := func(side, child int32) {
		w.nodes, w.side, w.span = append(w.nodes, wideNode{}), append(w.side, side), append(w.span, below(child))
	}
	room := len(t.id) / 4
	w.nodes, w.side, w.span = slices.Grow(w.nodes, room), slices.Grow(w.side, room), slices.Grow(w.span, room)
	add(-1, 0)
	for i := 0; i < len(w.nodes); i++ {
		if s := w.span[i]; s[1]-s[0] <= width {
			w.nodes[i] = wideNode{first: s[0], count: uint16(s[1] - s[0]), facets: true}
			continue
		}
		at := int32(0)
		if i > 0 {
			_, at = t.side(w.side[i])
		}
		first := len(w.nodes)
		add(2*at, t.nodes[at].child[0])
		add(2*at+1, t.nodes[at].child[1])
		for len(w.nodes) < first+width {
			most, size := first, int32(0)
			for k := first; k < len(w.nodes); k++ {
				if n := w.span[k][1] - w.span[k][0]; n > size {
					most, size = k, n
				}
			}
			if size <= width {
				break
			}
			_, c := t.side(w.side[most])
			w.side[most], w.span[most] = 2*c, below(t.nodes[c].child[0])
			add(2*c+1, t.nodes[c].child[1])
		}
		w.nodes[i] = wideNode{first: int32(first), count: uint16(len(w.nodes) - first)}
	}
	return w
}

// Up to so many facets are nearly flat together on fine meshes: their boxes lie
// along the surface and hold little else.
const turnedBelow = 64

// turnedPad times the reach is added to boxes along axes of their own: turning
// takes some roundings more.
const turnedPad = 0x1p-18

// upright are the axes of the tree itself.
var upright = [3][3]float32{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// fill measures the boxes of node i.
func (w *widener) fill(i int32) {
	n := &w.nodes[i]
	var child [width]bounds
	if s := w.span[i]; s[1]-s[0] <= turnedBelow {
		n.axes = w.along(s)
		for k := range int32(n.count) {
			below := [2]int32{n.first + k, n.first + k + 1}
			if !n.facets {
				below = w.span[n.first+k]
			}
			child[k] = w.turned(&n.axes, below)
		}
	} else {
		n.axes = upright
		for k := range int32(n.count) {
			b, _ := w.t.side(w.side[n.first+k])
			for x := range 3 {
				child[k].lo[x], child[k].hi[x] = b[x]-b[3+x], b[x]+b[3+x]
			}
		}
	}
	n.take(child[:n.count])
}

// along returns axes of which the last is the mean normal of the facets of the range.
func (w *widener) along(r [2]int32) [3][3]float32 {
	var n r3.Vector
	for i := r[0]; i < r[1]; i++ {
		a, b, c := w.t.corners(i)
		n = n.Add(b.Sub(a).Cross(c.Sub(a)))
	}
	if n = n.Normalize(); n == (r3.Vector{}) {
		return upright
	}
	x := n.Ortho()
	y := n.Cross(x)
	return [3][3]float32{
		{float32(x.X), float32(y.X), float32(n.X)},
		{float32(x.Y), float32(y.Y), float32(n.Y)},
		{float32(x.Z), float32(y.Z), float32(n.Z)},
	}
}

// turned returns the box along the axes around the facets of the range.
func (w *widener) turned(axes *[3][3]float32, r [2]int32) bounds {
	e := emptyBounds()
	for i := r[0]; i < r[1]; i++ {
		for _, v := range w.t.tri[i] {
			q := w.t.local(w.t.v[v])
			for k := range 3 {
				p := float32(axes[0][k]*q[0]) + float32(axes[1][k]*q[1]) + float32(axes[2][k]*q[2])
				e.lo[k], e.hi[k] = min(e.lo[k], p), max(e.hi[k], p)
			}
		}
	}
	pad := float32(w.t.reach * turnedPad)
	for k := range 3 {
		e.lo[k], e.hi[k] = e.lo[k]-pad, e.hi[k]+pad
	}
	return e
}

// take rounds the boxes outwards to steps of the box around all.
func (n *wideNode) take(child []bounds) {
	all := emptyBounds()
	for k := range child {
		all.add(&child[k].lo, &child[k].hi)
	}
	n.base = all.lo
	for x := range 3 {
		// A step is no less than its share, so that the last one is not beyond 255
		// but for a rounding, which the padding holds.
		n.step[x] = math.Nextafter32((all.hi[x]-all.lo[x])*(1.0/255), inf32)
		inverse := 1 / float64(n.step[x])
		for k := range child {
			lo := float64(child[k].lo[x]-n.base[x]) * inverse
			hi := float64(child[k].hi[x]-n.base[x]) * inverse
			n.lo[x][k] = uint8(lo)
			n.hi[x][k] = uint8(min(hi+1, 255)) // whole steps get one more, which does no harm
		}
	}
}
