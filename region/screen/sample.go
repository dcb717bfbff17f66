package screen

import (
	"context"
	"math"
	"runtime"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// wantedSamples is about how many places of a coarse part are looked at; every
// facet of a fine one has a place of its own.
const wantedSamples = 20000

// sample is a place of the skin with the free way in front and the metal behind.
type sample struct {
	at    r3.Vector
	area  float64 // mm2 it stands for
	facet int32

	// What a ray along the normal meets, outwards and inwards: the facet, or -1, and the length.
	outFacet, inFacet int32
	out, in           float64
}

// part is the mesh with what all rules need.
type part struct {
	m      *mesh.Mesh
	topo   *mesh.Topology
	shells []mesh.Shell
	opt    Options
	lim    Limits

	tree    *bvh.Tree
	normal  []r3.Vector // unit, zero for a facet of no area
	area    []float64
	lo, hi  r3.Vector
	diag    float64
	eps     float64 // mm, far below any size and above rounding
	hollow  []bool  // facets of cavities' walls and what is inside them
	stray   []bool  // facets of shells that bound nothing
	samples []sample
	first   []int32 // samples of facet f: first[f] to first[f+1]
	claimed []bool  // facets that belong to a hole
	thread  []bool  // facets of threads, whose crests and roots are no edges, walls and gaps of their own
	shellOf []int32 // number of the shell of each facet
}

func newPart(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, shells []mesh.Shell, opt Options) (*part, error) {
	if topo == nil {
		topo = m.Topology()
	}
	if shells == nil {
		shells = m.Shells(topo)
	}
	p := &part{m: m, topo: topo, shells: shells, opt: opt, lim: opt.Limits}
	p.lo, p.hi = m.Bounds()
	p.diag = p.hi.Sub(p.lo).Norm()
	p.eps = max(1e-7*p.diag, 1e-7)
	if p.tree = opt.Tree; p.tree == nil {
		p.tree = bvh.New(m, opt.Workers)
	}
	p.tree.Widen(opt.Workers)
	p.normal = make([]r3.Vector, len(m.Facets))
	p.area = make([]float64, len(m.Facets))
	p.claimed = make([]bool, len(m.Facets))
	p.thread = make([]bool, len(m.Facets))
	p.shellOf = make([]int32, len(m.Facets))
	for i := range shells {
		for _, f := range shells[i].Facets {
			p.shellOf[f] = int32(i)
		}
	}
	err := p.each(ctx, len(m.Facets), func(f int) {
		n := m.AreaNormal(f)
		l := n.Norm()
		p.area[f] = l / 2
		if l > 0 {
			p.normal[f] = n.Mul(1 / l)
		}
	})
	return p, err
}

// each calls f for every number below n on all workers; f writes only what
// belongs to its number.
func (p *part) each(ctx context.Context, n int, f func(i int)) error { return p.chunks(ctx, n, 256, f) }

// eachSlowly is each for few numbers with much work.
func (p *part) eachSlowly(ctx context.Context, n int, f func(i int)) error {
	return p.chunks(ctx, n, 1, f)
}

// workers is how many goroutines work side by side.
func (p *part) workers() int {
	if p.opt.Workers > 0 {
		return p.opt.Workers
	}
	return runtime.GOMAXPROCS(0)
}

func (p *part) chunks(ctx context.Context, n, chunk int, f func(i int)) error {
	return mesh.Spread(ctx, n, chunk, p.opt.Workers, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			f(i)
		}
		return nil
	})
}

// sampleSkin places the samples and looks along their normals.
func (p *part) sampleSkin(ctx context.Context) error {
	p.placeSamples()
	return p.each(ctx, len(p.samples), func(i int) {
		s := &p.samples[i]
		n := p.normal[s.facet]
		s.out, s.outFacet = p.look(s.at, n)
		s.in, s.inFacet = p.look(s.at, n.Mul(-1))
	})
}

// placeSamples spreads samples over the facets.
func (p *part) placeSamples() {
	patch := p.patch()
	p.first = make([]int32, len(p.m.Facets)+1)
	p.samples = make([]sample, 0, len(p.m.Facets)) // or a few more
	for f := range p.m.Facets {
		p.first[f] = int32(len(p.samples))
		if p.area[f] == 0 || p.stray[f] {
			continue
		}
		a, b, c := p.m.Triangle(f)
		split(a, b, c, p.area[f], patch, func(at r3.Vector, area float64) {
			p.samples = append(p.samples, sample{at: at, area: area, facet: int32(f)})
		})
	}
	p.first[len(p.m.Facets)] = int32(len(p.samples))
}

// patch is the area that a sample of a large facet stands for, mm2.
func (p *part) patch() float64 {
	var total float64
	for _, a := range p.area {
		total += a
	}
	return total / wantedSamples
}

// split halves a triangle across its longest edge until it is small or, when
// slender, short, and hands on the middle and the area of every piece.
func split(a, b, c r3.Vector, area, patch float64, piece func(at r3.Vector, area float64)) {
	ab, bc, ca := b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2()
	longest := max(ab, bc, ca)
	if area > patch/8 && longest > 4*patch {
		if bc == longest {
			a, b, c = b, c, a
		} else if ca == longest {
			a, b, c = c, a, b
		}
		mid := a.Add(b).Mul(0.5)
		split(a, mid, c, area/2, patch, piece)
		split(mid, b, c, area/2, patch, piece)
		return
	}
	piece(a.Add(b).Add(c).Mul(1.0/3), area)
}

// look returns the length of the ray to the first facet it meets, and the facet.
func (p *part) look(o, d r3.Vector) (float64, int32) {
	h, ok := p.tree.Ray(o, d, 100*p.eps, math.Inf(1))
	if !ok {
		return math.Inf(1), -1
	}
	return h.T, int32(h.Facet)
}

// sliver tells whether a facet is so slender that its normal means little.
func (p *part) sliver(f int32) bool {
	a, b, c := p.m.Triangle(int(f))
	l2 := max(b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2())
	return 2*p.area[f] < 1e-3*l2
}

// mean returns the mean of a corner field over a facet, 0 for none.
func mean(c mesh.CornerField, f int32) float64 {
	if c == nil {
		return 0
	}
	v := c[f]
	return (v[0] + v[1] + v[2]) / 3
}
