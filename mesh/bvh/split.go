package bvh

// binning maps the centre of a prim along one axis to a bin.
type binning struct {
	axis        int
	base, scale float32
	bins        int
}

// of returns the bin of p.
func (g *binning) of(p *prim) int {
	i := int((p.lo[g.axis] + p.hi[g.axis] - g.base) * g.scale)
	if i < 0 {
		return 0
	}
	if i >= g.bins {
		return g.bins - 1
	}
	return i
}

// binningOf lays bins along the longest axis of the centres, and says false when
// all centres are in one place. Large ranges take the box for that of the centres.
func (b *builder) binningOf(lo, hi int, bd *bounds) (binning, bool) {
	n := hi - lo
	c := bounds{}
	if n > 1024 {
		for k := range 3 {
			c.lo[k], c.hi[k] = 2*bd.lo[k], 2*bd.hi[k]
		}
	} else {
		c = emptyBounds()
		for i := lo; i < hi; i++ {
			p := &b.prims[i]
			m := [3]float32{p.lo[0] + p.hi[0], p.lo[1] + p.hi[1], p.lo[2] + p.hi[2]}
			c.add(&m, &m)
		}
	}
	g := binning{bins: binsMax}
	if n <= 32 {
		g.bins = 8
	}
	ext := c.hi[0] - c.lo[0]
	for k := 1; k < 3; k++ {
		if e := c.hi[k] - c.lo[k]; e > ext {
			g.axis, ext = k, e
		}
	}
	if !(ext > 0) {
		return g, false
	}
	g.base, g.scale = c.lo[g.axis], float32(g.bins)/ext
	return g, g.scale < inf32
}

// split parts the range by the surface-area heuristic in bins (Wald, "On fast
// construction of SAH-based bounding volume hierarchies", 2007) and returns
// where the second part begins and the boxes of both.
func (b *builder) split(lo, hi int, bd *bounds, depth int) (mid int, l, r bounds) {
	g, ok := b.binningOf(lo, hi, bd)
	if !ok || depth > deepest {
		return b.halve(lo, hi)
	}
	var bin [binsMax]bounds
	var count [binsMax]int
	for i := range g.bins {
		bin[i] = emptyBounds()
	}
	for i := lo; i < hi; i++ {
		p := &b.prims[i]
		k := g.of(p)
		bin[k].add(&p.lo, &p.hi)
		count[k]++
	}
	at, l, r := cheapest(bin[:g.bins], count[:g.bins])
	if at < 0 {
		return b.halve(lo, hi)
	}
	i, j := lo, hi-1
	for i <= j {
		if g.of(&b.prims[i]) <= at {
			i++
		} else {
			b.prims[i], b.prims[j] = b.prims[j], b.prims[i]
			j--
		}
	}
	return i, l, r
}

// cheapest returns the last bin of the left part and the boxes of both parts; -1 when only one bin is filled.
func cheapest(bin []bounds, count []int) (at int, l, r bounds) {
	n := len(bin)
	var right [binsMax]bounds
	var nright [binsMax]int
	right[n-1], nright[n-1] = bin[n-1], count[n-1]
	for i := n - 2; i > 0; i-- {
		right[i] = right[i+1]
		right[i].add(&bin[i].lo, &bin[i].hi)
		nright[i] = nright[i+1] + count[i]
	}
	at = -1
	left, nleft := emptyBounds(), 0
	best := inf32
	for i := range n - 1 {
		left.add(&bin[i].lo, &bin[i].hi)
		nleft += count[i]
		if nleft == 0 || nright[i+1] == 0 {
			continue
		}
		cost := float32(left.halfArea()*float32(nleft)) + float32(right[i+1].halfArea()*float32(nright[i+1]))
		if cost < best || at < 0 {
			best, at, l, r = cost, i, left, right[i+1]
		}
	}
	return at, l, r
}

// halve parts the range in the middle as it lies.
func (b *builder) halve(lo, hi int) (mid int, l, r bounds) {
	mid = (lo + hi) / 2
	l, r = emptyBounds(), emptyBounds()
	for i := lo; i < mid; i++ {
		l.add(&b.prims[i].lo, &b.prims[i].hi)
	}
	for i := mid; i < hi; i++ {
		r.add(&b.prims[i].lo, &b.prims[i].hi)
	}
	return mid, l, r
}
