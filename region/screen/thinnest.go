package screen

import (
	"context"
	"math"
	"sync"
	"sync/atomic"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// ThinnestWall returns the least solid thickness, mm, and its place, as Screen
// measures them: quick enough to ask for a picture's sake, since no ray goes
// further than the thinnest wall seen so far. The arguments are those of Screen. A
// part without facing skins has an infinite thickness.
func ThinnestWall(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt Options) (mm float64, at r3.Vector, err error) {
	opt, err = opt.check(m)
	if err != nil {
		return 0, at, err
	}
	p, err := newPart(ctx, m, topo, nil, opt)
	if err != nil {
		return 0, at, err
	}
	p.cavities()
	t := thinnest{part: p, patch: p.patch(), mm: math.Inf(1), facet: -1}
	t.bound.Store(math.Float64bits(t.mm))
	// Some facets all over the part first: thin walls that they find keep the rays of all others short.
	const stride = 64
	if err = p.each(ctx, len(m.Facets)/stride, func(i int) { t.facetAt(i * stride) }); err == nil {
		err = p.each(ctx, len(m.Facets), t.facetAt)
	}
	return t.mm, t.at, err
}

// thinnest is the thinnest wall seen so far.
type thinnest struct {
	*part
	patch float64
	bound atomic.Uint64 // bits of mm

	mu    sync.Mutex
	mm    float64
	at    r3.Vector
	facet int
	piece int // of the facet
}

// facetAt looks inwards from the places of a facet.
func (t *thinnest) facetAt(f int) {
	if t.area[f] == 0 || t.stray[f] || t.hollow[f] || t.sliver(int32(f)) {
		return
	}
	a, b, c := t.m.Triangle(f)
	piece := 0
	split(a, b, c, t.area[f], t.patch, func(at r3.Vector, _ float64) {
		n := t.normal[f]
		h, ok := t.tree.Ray(at, n.Mul(-1), 100*t.eps, math.Float64frombits(t.bound.Load()))
		if ok && n.Dot(t.normal[h.Facet]) <= -parallel {
			t.offer(h.T, at, f, piece)
		}
		piece++
	})
}

// offer takes a wall that is thinner, or of equals the first in the order of
// the facets, whoever found it.
func (t *thinnest) offer(mm float64, at r3.Vector, f, piece int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if mm < t.mm || mm == t.mm && (f < t.facet || f == t.facet && piece < t.piece) {
		t.mm, t.at, t.facet, t.piece = mm, at, f, piece
		t.bound.Store(math.Float64bits(mm))
	}
}
