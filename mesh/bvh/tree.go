package bvh

import (
	"context"
	"runtime"
	"sync"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Tree is a hierarchy of boxes over the facets of a mesh. It is safe for use by many goroutines.
type Tree struct {
	m      *mesh.Mesh
	origin r3.Vector // of the boxes' coordinates
	reach  float64   // no vertex is further from the origin along an axis
	pad    float32
	nodes  []node

	// In the order of the leaves:
	id  []int32        // facet number in m
	tri [][3]int32     // numbers in vert
	v   []r3.Vector    // vertices, each once, by first use
	vid []int32        // their numbers in m
	in  *lazyIncidence // shared by trees of the same facets

	lay  *layout // likewise
	wide *wide
}

// padShare times the reach is added to every box on all sides. It covers the
// rounding of boxes and queries to single precision (2^-24 of the reach each,
// a handful of times) with a margin.
const padShare = 0x1p-20

// New builds the tree of a mesh with up to the given number of goroutines; 0
// takes GOMAXPROCS. The mesh must have finite coordinates and must not change
// while the tree is used. The tree is the same whatever the number of workers.
func New(m *mesh.Mesh, workers int) *Tree {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	t := &Tree{m: m, in: &lazyIncidence{}, lay: &layout{}, wide: &wide{}}
	t.place()
	b := &builder{prims: make([]prim, len(m.Facets)), pad: t.pad, idle: make(chan struct{}, workers)}
	for range workers - 1 {
		b.idle <- struct{}{}
	}
	all := t.prims(b.prims, workers)
	t.nodes = b.build(all)
	t.id = make([]int32, len(b.prims))
	for i := range b.prims {
		t.id[i] = b.prims[i].id
	}
	t.order(workers)
	return t
}

// prims fills in the boxes of the facets and returns the box around all.
func (t *Tree) prims(ps []prim, workers int) bounds {
	const chunk = 1 << 15
	part := make([]bounds, (len(ps)+chunk-1)/chunk)
	_ = inChunks(context.Background(), len(ps), chunk, workers, func(lo, hi int) error {
		bd := emptyBounds()
		for f := lo; f < hi; f++ {
			p := t.prim(int32(f))
			bd.add(&p.lo, &p.hi)
			ps[f] = p
		}
		part[lo/chunk] = bd
		return nil
	})
	all := emptyBounds()
	for i := range part {
		all.add(&part[i].lo, &part[i].hi)
	}
	return all
}

// prim returns the box of facet f.
func (t *Tree) prim(f int32) prim {
	e := emptyBounds()
	for _, v := range t.m.Facets[f] {
		c := t.local(t.m.Vertices[v])
		e.add(&c, &c)
	}
	return prim{lo: e.lo, hi: e.hi, id: f}
}

// order lays the facets and their vertices in the order of the leaves.
func (t *Tree) order(workers int) {
	t.tri = make([][3]int32, len(t.id))
	mesh.InChunks(len(t.id), workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			t.tri[i] = t.m.Facets[t.id[i]]
		}
	})
	t.vid = make([]int32, 0, len(t.m.Vertices))
	number := make([]int32, len(t.m.Vertices)) // in v, plus one
	for i := range t.tri {
		for k, w := range t.tri[i] {
			if number[w] == 0 {
				t.vid = append(t.vid, w)
				number[w] = int32(len(t.vid))
			}
			t.tri[i][k] = number[w] - 1
		}
	}
	t.v = make([]r3.Vector, len(t.vid))
	mesh.InChunks(len(t.v), workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			t.v[i] = t.m.Vertices[t.vid[i]]
		}
	})
}

// Mesh returns the mesh the tree is of.
func (t *Tree) Mesh() *mesh.Mesh { return t.m }

// lazyIncidence is computed when it is first asked for.
type lazyIncidence struct {
	once sync.Once
	*mesh.Incidence
}

// Incidence returns the corners around every vertex of the mesh, computed
// once for all trees of the same facets.
func (t *Tree) Incidence() *mesh.Incidence {
	t.in.once.Do(func() { t.in.Incidence = t.m.Incidence() })
	return t.in.Incidence
}

// TakeIncidence has Incidence return in, which is that of the mesh.
func (t *Tree) TakeIncidence(in *mesh.Incidence) {
	t.in.once.Do(func() { t.in.Incidence = in })
}

// corners returns the corners of the facet at place i of the leaves' order.
func (t *Tree) corners(i int32) (a, b, c r3.Vector) {
	w := t.tri[i]
	return t.v[w[0]], t.v[w[1]], t.v[w[2]]
}

// local returns p in the boxes' coordinates.
func (t *Tree) local(p r3.Vector) [3]float32 {
	q := p.Sub(t.origin)
	return [3]float32{float32(q.X), float32(q.Y), float32(q.Z)}
}

// Chunk is the length of the ranges that InChunks hands out.
const Chunk = 1024

// InChunks is mesh.Spread in ranges of Chunk items.
func InChunks(ctx context.Context, n, workers int, do func(lo, hi int) error) error {
	return inChunks(ctx, n, Chunk, workers, do)
}

// inChunks is mesh.Spread for work without scratch space.
func inChunks(ctx context.Context, n, chunk, workers int, do func(lo, hi int) error) error {
	return mesh.Spread(ctx, n, chunk, workers, func(_, lo, hi int) error { return do(lo, hi) })
}
