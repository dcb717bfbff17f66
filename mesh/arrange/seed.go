package arrange

import (
	"math"
	"math/big"

	"github.com/golang/geo/r3"
)

// probe is a point inside a facet, (w0*a + w1*b + w2*c)/(w0+w1+w2) of its corners.
type probe struct {
	facet  int32
	weight [3]int64
	at     [3]r3.Vector // the corners
	far    bool         // the facet is one of the rest
}

// middle is the probe in the middle of a whole facet, or of the largest one of a part of the rest.
func (c *cutting) middle(facet, far int32) probe {
	p := probe{facet: facet, weight: [3]int64{1, 1, 1}}
	if far >= 0 {
		p.facet, p.far = c.s.rest.largest[far], true
		p.at[0], p.at[1], p.at[2] = c.s.rest.m.Triangle(int(p.facet))
	} else {
		p.at[0], p.at[1], p.at[2] = c.s.corners(facet)
	}
	return p
}

func (p *probe) normal() r3.Vector { return p.at[1].Sub(p.at[0]).Cross(p.at[2].Sub(p.at[0])) }

// winding returns the winding number just in front of a probe by a ray against
// all facets, exactly. ok is false when every ray tried met an edge.
func (c *cutting) winding(p probe) (w int32, ok bool) {
	n := p.normal()
	n = n.Mul(1 / max(math.Abs(n.X), math.Abs(n.Y), math.Abs(n.Z)))
	r := mix(uint64(p.facet))
	for range 24 {
		var d [3]int64
		for k := range 3 {
			r = mix(r)
			// Within about 20 degrees of the normal; 13 random bits make hits on edges rare.
			d[k] = int64(axis(n, k)*(1<<14)) + int64(r>>51) - 1<<12
		}
		if w, ok := c.cast(p, d); ok {
			return w, true
		}
	}
	return 0, false
}

// cast counts facets left less facets entered along the ray.
func (c *cutting) cast(p probe, d [3]int64) (w int32, ok bool) {
	s := c.s
	var den big.Int
	var num [3]big.Int
	var x, y big.Int
	den.SetInt64(p.weight[0] + p.weight[1] + p.weight[2])
	var from r3.Vector
	for i, v := range p.at {
		g := gridPoint(v)
		for k := range 3 {
			num[k].Add(&num[k], x.Mul(x.SetInt64(g[k]), y.SetInt64(p.weight[i])))
		}
		from = from.Add(v.Mul(float64(p.weight[i]) / float64(p.weight[0]+p.weight[1]+p.weight[2])))
	}
	// The ray must leave in front of the facet.
	if rayDot(d, p.normal()) <= 0 {
		return 0, false
	}
	ok = true
	dir := r3.Vector{X: float64(d[0]), Y: float64(d[1]), Z: float64(d[2])}
	count := func(at *[]r3.Vector, t [3]int32) {
		h, sure := hit(at, t, &num, &den, d)
		ok = ok && sure
		w += h
	}
	c.tree.ray(from, dir, func(leaf int) {
		for _, f := range c.tree.leaf(leaf) {
			if ok && (p.far || f != p.facet) {
				count(&s.at, s.facets[f])
			}
		}
	})
	s.rest.ray(from, dir, func(f int32) {
		if ok && (!p.far || f != p.facet) {
			count(&s.rest.m.Vertices, s.rest.m.Facets[f])
		}
	})
	return w, ok
}

func rayDot(d [3]int64, n r3.Vector) float64 {
	return float64(d[0])*n.X + float64(d[1])*n.Y + float64(d[2])*n.Z
}

// hit returns 1 when the ray from num/den along d leaves metal through the
// facet, -1 when it enters, 0 when it misses; sure is false when it meets an edge.
func hit(at *[]r3.Vector, t [3]int32, num *[3]big.Int, den *big.Int, d [3]int64) (h int32, sure bool) {
	var v [3][3]big.Int // corners less the start, times den
	var x big.Int
	for i, vi := range t {
		g := gridPoint((*at)[vi])
		for k := range 3 {
			v[i][k].Mul(x.SetInt64(g[k]), den)
			v[i][k].Sub(&v[i][k], &num[k])
		}
	}
	var sum, dk big.Int
	lo, hi := 1, -1
	for i := range 3 {
		n := crossBig(&v[i], &v[(i+1)%3])
		sum.SetInt64(0)
		for k := range 3 {
			sum.Add(&sum, x.Mul(&n[k], dk.SetInt64(d[k])))
		}
		lo, hi = min(lo, sum.Sign()), max(hi, sum.Sign())
	}
	if lo < 0 && hi > 0 {
		return 0, true
	}
	if lo == 0 || hi == 0 {
		return 0, false
	}
	// All three agree with the sign of d against the facet's normal. Ahead is
	// where normal . (corner - start) has that sign too.
	var e1, e2 [3]big.Int
	for k := range 3 {
		e1[k].Sub(&v[1][k], &v[0][k])
		e2[k].Sub(&v[2][k], &v[0][k])
	}
	n := crossBig(&e1, &e2)
	sum.SetInt64(0)
	for k := range 3 {
		sum.Add(&sum, x.Mul(&n[k], &v[0][k]))
	}
	switch sum.Sign() * lo {
	case 0:
		return 0, false
	case 1:
		return int32(lo), true
	}
	return 0, true
}

// winds returns the winding number in front of every node (see patches).
func (c *cutting) winds(l *levels, subs []subFacet) ([]int32, error) {
	nf, n := int32(len(c.s.facets)), int32(len(l.parent))
	far := nf + int32(len(subs))
	best := filled(int(n)) // per root: the largest whole facet, else the largest piece
	size := make([]float64, n)
	isPiece := func(i int32) bool { return i >= nf && i < far }
	for i := range n {
		var a float64
		switch {
		case i >= far:
			if c.s.rest.gone[i-far] {
				continue
			}
			a = c.s.rest.size[i-far]
		case i >= nf:
			a = c.pieceArea(&subs[i-nf])
		case c.index[i] >= 0:
			continue
		default:
			a = c.s.areaNormal(i).Norm2()
		}
		r, _ := l.find(i)
		b := best[r]
		if b < 0 || isPiece(b) && !isPiece(i) || isPiece(b) == isPiece(i) && a > size[r] {
			best[r], size[r] = i, a
		}
	}
	front, base := make([]int32, n), make([]int32, n)
	for r := range n {
		if b := best[r]; b >= 0 {
			var p probe
			if isPiece(b) {
				p = c.pieceProbe(&subs[b-nf])
			} else {
				p = c.middle(b, b-far)
			}
			w, ok := c.winding(p)
			if !ok && p.far {
				return nil, errFar // nothing there can be nudged
			}
			if !ok {
				c.flag(p.facet)
			}
			_, d := l.find(b)
			base[r] = w - d
		}
	}
	for i := range n {
		r, d := l.find(i)
		front[i] = base[r] + d
	}
	return front, nil
}

// pieceArea returns the squared area of a piece, up to a factor.
func (c *cutting) pieceArea(q *subFacet) float64 {
	a, b, d := c.points[q.v[0]].vector(), c.points[q.v[1]].vector(), c.points[q.v[2]].vector()
	return b.Sub(a).Cross(d.Sub(a)).Norm2()
}

// pieceProbe returns a point of the piece's facet near the piece's middle.
func (c *cutting) pieceProbe(q *subFacet) probe {
	a, b, d := c.s.corners(q.parent)
	n := b.Sub(a).Cross(d.Sub(a))
	m := c.points[q.v[0]].vector().Add(c.points[q.v[1]].vector()).Add(c.points[q.v[2]].vector()).Mul(1. / 3)
	const parts = 1 << 40
	wa := b.Sub(m).Cross(d.Sub(m)).Dot(n) / n.Norm2()
	wb := d.Sub(m).Cross(a.Sub(m)).Dot(n) / n.Norm2()
	p := probe{facet: q.parent, at: [3]r3.Vector{a, b, d}}
	p.weight[0] = int64(math.Round(wa * parts))
	p.weight[1] = int64(math.Round(wb * parts))
	p.weight[2] = parts - p.weight[0] - p.weight[1]
	return p
}
