package bvh

import (
	"math"
	"sync"

	"github.com/golang/geo/r3"
)

// layout is which wide nodes a hierarchy has. Trees of one hierarchy share it.
type layout struct {
	once sync.Once
	kin  []kin
	side []int32    // of the tree, that each node is below; the root is below none
	span [][2]int32 // of the leaves' order below each node
}

// kin says what the children of a wide node are.
type kin struct {
	first  int32
	count  uint16
	facets bool
}

// lay lays out the wide nodes.
func (l *layout) lay(t *Tree, workers int) {
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
	add := func(side, child int32) {
		l.kin, l.side, l.span = append(l.kin, kin{}), append(l.side, side), append(l.span, below(child))
	}
	room := len(t.id)/7 + width
	l.kin, l.side, l.span = make([]kin, 0, room), make([]int32, 0, room), make([][2]int32, 0, room)
	add(-1, 0)
	for i := 0; i < len(l.kin); i++ {
		if s := l.span[i]; s[1]-s[0] <= width {
			l.kin[i] = kin{first: s[0], count: uint16(s[1] - s[0]), facets: true}
			continue
		}
		at := int32(0)
		if i > 0 {
			_, at = t.side(l.side[i])
		}
		first := len(l.kin)
		add(2*at, t.nodes[at].child[0])
		add(2*at+1, t.nodes[at].child[1])
		for len(l.kin) < first+width {
			most, size := first, int32(0)
			for k := first; k < len(l.kin); k++ {
				if n := l.span[k][1] - l.span[k][0]; n > size {
					most, size = k, n
				}
			}
			if size <= width {
				break
			}
			_, c := t.side(l.side[most])
			l.side[most], l.span[most] = 2*c, below(t.nodes[c].child[0])
			add(2*c+1, t.nodes[c].child[1])
		}
		l.kin[i] = kin{first: int32(first), count: uint16(len(l.kin) - first)}
	}
}

// widener makes the wide nodes of a tree.
type widener struct {
	*layout
	t     *Tree
	nodes []wideNode
}

// widened returns the widener of the tree, with nodes that are still empty.
func (t *Tree) widened(workers int) *widener {
	t.lay.once.Do(func() { t.lay.lay(t, workers) })
	return &widener{layout: t.lay, t: t, nodes: make([]wideNode, len(t.lay.kin))}
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
	n.first, n.count, n.facets = w.kin[i].first, w.kin[i].count, w.kin[i].facets
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
