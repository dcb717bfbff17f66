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
	p.placeSamples()
	var bound atomic.Uint64 // bits of best
	var mu sync.Mutex
	best, from := math.Inf(1), -1
	bound.Store(math.Float64bits(best))
	err = p.each(ctx, len(p.samples), func(i int) {
		s := &p.samples[i]
		if p.hollow[s.facet] || p.sliver(s.facet) {
			return
		}
		n := p.normal[s.facet]
		h, ok := p.tree.Ray(s.at, n.Mul(-1), 100*p.eps, math.Float64frombits(bound.Load()))
		if !ok || n.Dot(p.normal[h.Facet]) > -parallel {
			return
		}
		mu.Lock()
		defer mu.Unlock()
		if h.T < best || h.T == best && i < from { // of equals the first, whoever found it
			best, from = h.T, i
			bound.Store(math.Float64bits(best))
		}
	})
	if from >= 0 {
		at = p.samples[from].at
	}
	return best, at, err
}
