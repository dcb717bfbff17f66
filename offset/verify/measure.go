package verify

import (
	"math"
	"slices"
	"sync"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// steepest bounds the slope by which excess is corrected: a sliver of a facet shows any slope.
const steepest = 0.5

// gauge measures places of the nominal surface. Its methods may run at the same time.
type gauge struct {
	nominal, grown *mesh.Mesh
	wanted         mesh.CornerField
	tree           *bvh.Tree // of the grown mesh
	signs          *bvh.Signs
	workers        int
	dry            []bool    // grown facets that the bath does not wet; nil when it wets all
	wet, masks     *bvh.Tree // of the wetted and of the other facets; nil when it wets all

	once   sync.Once
	around *bvh.Tree       // of the nominal mesh, built when the first place needs it
	near   *mesh.Incidence // of the nominal mesh
}

// nominalTree returns the tree of the nominal mesh.
func (g *gauge) nominalTree() *bvh.Tree {
	g.once.Do(func() {
		if g.around == nil {
			g.around = bvh.New(g.nominal, g.workers)
		}
	})
	return g.around
}

// reading is what was measured at a place, in mm.
type reading struct {
	short, excess float64
	outside       bool
	hint          int
}

func (r reading) deviation() float64 {
	if r.short > 0 {
		return -r.short
	}
	return r.excess
}

// depth returns how deep x lies in the grown part, negative outside, and the hit.
func (g *gauge) depth(x r3.Vector, hint int) (float64, bvh.Hit) {
	h := g.tree.Closest(x, hint)
	return -g.signs.Sure(x, h, true), h
}

// narrow is the height of a facet, as a share of its allowance, below which its
// normal says nothing about the surface: slivers of the mesher stand at any
// angle. What lies under them is still asked all around.
const narrow = 0.1

// directed returns the normal of facet f, or zero for one too narrow to have a direction of its own.
func (g *gauge) directed(f int) r3.Vector {
	a, b, c := g.nominal.Triangle(f)
	longest := math.Sqrt(max(b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2()))
	n := g.nominal.AreaNormal(f)
	if n.Norm() < narrow*longest*max(g.wanted[f][0], g.wanted[f][1], g.wanted[f][2]) {
		return r3.Vector{}
	}
	return n.Normalize()
}

// facet measures x on a facet with normal n, zero for none, allowance a and the
// cosine that goes with its slope.
func (g *gauge) facet(x, n r3.Vector, a, cos float64, hint int) reading {
	d, h := g.depth(x, hint)
	r := reading{hint: h.Facet, outside: d < -Resolution}
	if e := d - a*cos; e > 0 {
		r.excess = e
	}
	if d >= a-Resolution {
		return r
	}
	r.short = g.allAround(x, h, d, a, cos)
	if n != (r3.Vector{}) {
		r.short = max(r.short, g.alongNormal(x, n, a, h.Facet))
	}
	r.short = g.spared(x, d, r.short, a)
	return r
}

// spareReach is how far from a masked face, in allowances, a shortfall is
// looked at again: as far as the allowance takes to rise from nothing at a slope
// of an eighth.
const spareReach = 8

// spared looks at the shortfall of x, which lies d deep, again beside masked
// faces, where a is its allowance. These cut off what lies along its normal, but
// nothing is lost there: only the wetted surface nearest to it must not lose
// more than lies there.
func (g *gauge) spared(x r3.Vector, d, short, a float64) float64 {
	if short >= Resolution && g.wet != nil && d >= -Resolution {
		if _, near := g.masks.ClosestWithin(x, spareReach*a, bvh.NoHint); near {
			h := g.wet.Closest(x, bvh.NoHint)
			foot := g.nominalTree().Closest(h.Point, bvh.NoHint)
			short = min(short, max(0, g.lack(h.Point, foot, h.Dist)))
		}
	}
	if short < Resolution {
		return 0
	}
	return short
}

// part returns a tree of the grown facets whose dry mark is as given, nil without marks.
func part(grown *mesh.Mesh, dry []bool, want bool, workers int) *bvh.Tree {
	if !slices.Contains(dry, true) {
		return nil
	}
	m := &mesh.Mesh{Vertices: grown.Vertices}
	for f, d := range dry {
		if d == want {
			m.Facets = append(m.Facets, grown.Facets[f])
		}
	}
	return bvh.New(m, workers)
}

// alongNormal is how far x + a n stands outside the grown part.
func (g *gauge) alongNormal(x, n r3.Vector, a float64, hint int) float64 {
	p := x.Add(n.Mul(a))
	h := g.tree.Closest(p, hint)
	if h.Dist < Resolution {
		return 0
	}
	return max(g.signs.Sure(p, h, true), 0)
}

// allAround is what the grown surface loses at its place nearest to x beyond its depth d there.
func (g *gauge) allAround(x r3.Vector, h bvh.Hit, d, a, cos float64) float64 {
	if d < -Resolution {
		return a - d
	}
	if d >= a*cos-Resolution {
		return 0 // the slope of the allowance explains it
	}
	foot := g.nominalTree().Closest(h.Point, bvh.NoHint)
	return g.lack(h.Point, foot, h.Point.Distance(x))
}

// lack is how much more is lost at the grown place y than the stock there. The
// loss is what is called for at the nominal place nearest to it, foot.
func (g *gauge) lack(y r3.Vector, foot bvh.Hit, stock float64) float64 {
	if g.at(foot)-stock <= Resolution {
		return 0
	}
	return g.least(y, foot) - stock
}

// least is the least allowance of the nominal facets nearest to y, of which foot is on one.
func (g *gauge) least(y r3.Vector, foot bvh.Hit) float64 {
	a := g.at(foot)
	// At an edge the foot may be given to either face, by a rounding.
	g.around.VisitBall(y, foot.Dist+Resolution, func(f int) bool {
		a = min(a, g.at(g.around.On(f, y)))
		return true
	})
	return a
}

// at is the allowance at a place of the nominal surface.
func (g *gauge) at(h bvh.Hit) float64 {
	return g.wanted.At(h.Facet, h.Bary[0], h.Bary[1], h.Bary[2])
}

// meeting returns the least and the greatest allowance of the facets that meet at a place of the nominal surface.
func (g *gauge) meeting(h bvh.Hit) (least, most float64) {
	least = g.at(h)
	most = least
	if h.Feature == bvh.Face {
		return least, most
	}
	take := func(a float64) { least, most = min(least, a), max(most, a) }
	w := g.nominal.Facets[h.Facet]
	v, end := w[h.K], w[(h.K+1)%3]
	for _, c := range g.near.Of(v) {
		f, k := int(c/3), int(c%3)
		if h.Feature == bvh.Corner {
			take(g.wanted[f][k])
			continue
		}
		for l := range 3 {
			if g.nominal.Facets[f][l] == end {
				s := h.Bary[h.K]
				take(float64(s*g.wanted[f][k]) + float64((1-s)*g.wanted[f][l]))
			}
		}
	}
	return least, most
}

// corner measures vertex v with the facets around it.
func (g *gauge) corner(v int32, around []int32, hint int) reading {
	x := g.nominal.Vertices[v]
	d, h := g.depth(x, hint)
	r := reading{hint: h.Facet, outside: d < -Resolution}
	top, cos := 0.0, 1.0
	least := math.Inf(1)
	for _, c := range around {
		least = min(least, g.wanted[c/3][c%3])
	}
	for _, c := range around {
		f, k := int(c/3), int(c%3)
		a := g.wanted[f][k]
		if a > top {
			top = a
		}
		if d >= a-Resolution {
			continue
		}
		// A little inside the facet, where its own normal counts.
		y := x.Add(g.nominal.Corner(f, (k+1)%3).Add(g.nominal.Corner(f, (k+2)%3)).Mul(0.5).Sub(x).Mul(inset))
		fc := slopeCos(g.nominal, g.wanted, f)
		cos = min(cos, fc)
		r.short = max(r.short, g.alongNormal(y, g.nominal.FacetNormal(f), a, h.Facet), g.allAround(x, h, d, a, fc))
		if a > least+sag {
			r.short = max(r.short, g.besideCorner(f, k, h, fc))
		}
	}
	r.short = g.spared(x, d, r.short, top)
	if e := d - top*cos; e > 0 {
		r.excess = e
	}
	return r
}

// besideCorner is what lacks around corner k of facet f, at which another facet calls
// for less; h is the place of the grown surface nearest to it. That place loses what
// the other facet calls for: the ones asked are so far along the edges and the middle
// of the facet that their nearest places do not.
func (g *gauge) besideCorner(f, k int, h bvh.Hit, cos float64) float64 {
	x, short := g.nominal.Corner(f, k), 0.0
	off := h.Point.Sub(x)
	for _, towards := range [3]place{{0, 1, 0}, {0, 0, 1}, {0, 0.5, 0.5}} {
		var p place
		for l := range p {
			p[(k+l)%3] = towards[l]
		}
		way := p.of(g.nominal.Triangle(f)).Sub(x)
		size := way.Norm()
		share := share(max(0, -off.Dot(way)/size)+2*math.Sqrt(2*off.Norm()*Resolution), size)
		for l := range p {
			p[l] *= share
		}
		p[k] = 1 - share
		at := x.Add(way.Mul(share))
		d, h := g.depth(at, h.Facet)
		short = max(short, g.allAround(at, h, d, g.wanted.At(f, p[0], p[1], p[2]), cos))
	}
	return short
}

// slopeCos is cos(atan s) for the slope s of the allowance over facet f, bounded by steepest.
func slopeCos(m *mesh.Mesh, w mesh.CornerField, f int) float64 {
	dv, dw := w[f][1]-w[f][0], w[f][2]-w[f][0]
	if dv == 0 && dw == 0 {
		return 1
	}
	a, b, c := m.Triangle(f)
	ab, ac := b.Sub(a), c.Sub(a)
	n := ab.Cross(ac)
	grad := ac.Cross(n).Mul(dv).Add(n.Cross(ab).Mul(dw))
	s := grad.Norm() / n.Norm2()
	if !(s < steepest) {
		s = steepest
	}
	return 1 / math.Sqrt(1+s*s)
}
