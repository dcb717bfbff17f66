package bvh

import (
	"fmt"
	"math"
	"slices"

	"skinstock/mesh"
)

// Moved returns the tree of a mesh with the facets of t's and other vertices:
// t's hierarchy with boxes measured anew, in a small part of the time New takes.
// It answers as New's does, as fast when the vertices have not gone far, and
// shares memory with t. m must not change while the tree is used. The tree is
// the same whatever the number of workers.
func (t *Tree) Moved(m *mesh.Mesh, workers int) *Tree {
	t.mustFit(m)
	u := *t
	u.v, u.nodes = slices.Clone(t.v), slices.Clone(t.nodes)
	u.refit(m, true, workers)
	return &u
}

// Follow makes t the tree of a mesh with the same facets and other vertices,
// as Moved, in place, and fast when few vertices have moved. Nobody else may use t meanwhile.
func (t *Tree) Follow(m *mesh.Mesh, workers int) {
	t.mustFit(m)
	t.refit(m, false, workers)
}

// Fits tells whether m has the facets of the tree's mesh, the slice itself, so
// that the tree can follow it.
func (t *Tree) Fits(m *mesh.Mesh) bool {
	return len(m.Facets) == len(t.m.Facets) && len(m.Vertices) == len(t.m.Vertices) && len(m.Facets) > 0 && &m.Facets[0] == &t.m.Facets[0]
}

func (t *Tree) mustFit(m *mesh.Mesh) {
	if len(m.Facets) != len(t.m.Facets) || len(m.Vertices) != len(t.m.Vertices) {
		panic(fmt.Sprintf("bvh: moved mesh of %d facets, the tree has %d", len(m.Facets), len(t.m.Facets)))
	}
}

// refit takes the vertices of m and measures the boxes above those that moved, or all.
func (t *Tree) refit(m *mesh.Mesh, all bool, workers int) {
	t.m, t.wide = m, &wide{}
	if all || !t.within() {
		t.place()
		all = true
	}
	moved := make([]bool, len(t.v))
	mesh.InChunks(len(t.v), workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if p := m.Vertices[t.vid[i]]; all || p != t.v[i] {
				t.v[i], moved[i] = p, true
			}
		}
	})
	if len(t.id) <= leafMax {
		box := t.around(leafCode(0, len(t.id)))
		t.nodes[0] = soleNode(&box, len(t.id), t.pad)
		return
	}
	dirty := make([]bool, len(t.nodes))
	mesh.InChunks(len(dirty), workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			for k, c := range t.nodes[i].child {
				if c < 0 && t.anyMoved(c, moved) {
					box := t.around(c)
					t.nodes[i].box[k], dirty[i] = box.padded(t.pad), true
				}
			}
		}
	})
	t.upwards(workers, func(i int32) {
		for k, c := range t.nodes[i].child {
			if c >= 0 && dirty[c] {
				t.nodes[i].box[k], dirty[i] = t.nodes[c].box[0].with(&t.nodes[c].box[1]), true
			}
		}
	})
}

func (t *Tree) anyMoved(leaf int32, moved []bool) bool {
	for i, end := leafRange(leaf); i < end; i++ {
		if w := &t.tri[i]; moved[w[0]] || moved[w[1]] || moved[w[2]] {
			return true
		}
	}
	return false
}

// with returns a box that holds both: their sides lie in it exactly, so that
// what a box is larger by than its facets lasts up to the root.
func (b *box) with(c *box) box {
	var r box
	for k := range 3 {
		lo := min(float64(b[k])-float64(b[3+k]), float64(c[k])-float64(c[3+k]))
		hi := max(float64(b[k])+float64(b[3+k]), float64(c[k])+float64(c[3+k]))
		r[k] = float32(0.5*lo + 0.5*hi)
		half := max(hi-float64(r[k]), float64(r[k])-lo)
		if r[3+k] = float32(half); float64(r[3+k]) < half {
			r[3+k] = math.Nextafter32(r[3+k], inf32)
		}
	}
	return r
}

// roomShare is by how much the boxes' coordinates reach beyond the vertices,
// for these to move without a new origin.
const roomShare = 1.0 / 16

// place sets the origin, reach and padding by the mesh's bounds.
func (t *Tree) place() {
	lo, hi := t.m.Bounds()
	t.origin = lo.Add(hi).Mul(0.5)
	d := hi.Sub(t.origin)
	t.reach = max(d.X, d.Y, d.Z) * (1 + roomShare)
	t.pad = float32(t.reach * padShare)
}

// within tells whether all vertices lie in reach.
func (t *Tree) within() bool {
	lo, hi := t.m.Bounds()
	lo, hi = lo.Sub(t.origin), hi.Sub(t.origin)
	return max(hi.X, hi.Y, hi.Z, -lo.X, -lo.Y, -lo.Z) <= t.reach
}

// around returns the box around the facets of a leaf.
func (t *Tree) around(leaf int32) bounds {
	bd := emptyBounds()
	for i, end := leafRange(leaf); i < end; i++ {
		for _, v := range t.tri[i] {
			p := t.local(t.v[v])
			bd.add(&p, &p)
		}
	}
	return bd
}
