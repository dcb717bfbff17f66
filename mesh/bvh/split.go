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
// all centres are in one place.
func (b *builder) binningOf(lo, hi int) (binning, bool) {
	n := hi - lo
	c := b.centres(lo, hi)
	g := binning{bins: binsMax}
	if n <= 32 {
		g.bins = 8
	}
	var ext float32
	g.axis, ext = c.longest()
	if !(ext > 0) {
		return g, false
	}
	g.base, g.scale = c.lo[g.axis], float32(g.bins)/ext
	return g, g.scale < inf32
}

// split parts the range by the surface-area heuristic in bins (Wald, "On fast
// construction of SAH-based bounding volume hierarchies", 2007) and returns
// where the second part begins and the boxes of both.
func (b *builder) split(lo, hi, depth int) (mid int, l, r bounds) {
	g, ok := b.binningOf(lo, hi)
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
	return mid, b.around(lo, mid), b.around(mid, hi)
}

// around returns the box around a range.
func (b *builder) around(lo, hi int) bounds {
	bd := emptyBounds()
	for i := lo; i < hi; i++ {
		bd.add(&b.prims[i].lo, &b.prims[i].hi)
	}
	return bd
}

// centres returns the box around the centres of a range, doubled.
func (b *builder) centres(lo, hi int) bounds {
	c := emptyBounds()
	for i := lo; i < hi; i++ {
		p := &b.prims[i]
		m := [3]float32{p.lo[0] + p.hi[0], p.lo[1] + p.hi[1], p.lo[2] + p.hi[2]}
		c.add(&m, &m)
	}
	return c
}

// doubled returns the box in the scale of the centres.
func (b *bounds) doubled() bounds {
	var d bounds
	for k := range 3 {
		d.lo[k], d.hi[k] = 2*b.lo[k], 2*b.hi[k]
	}
	return d
}

// longest returns the longest axis and the length along it.
func (b *bounds) longest() (axis int, ext float32) {
	ext = b.hi[0] - b.lo[0]
	for k := 1; k < 3; k++ {
		if e := b.hi[k] - b.lo[k]; e > ext {
			axis, ext = k, e
		}
	}
	return axis, ext
}

// middle parts a large range at the middle of the cell, which holds the centres,
// doubled, and returns where the second part begins and the cells of both. Far
// above the leaves that is as good as the heuristic on the even facets of fine
// meshes, and a fraction of the work.
func (b *builder) middle(lo, hi int, cell bounds, depth int) (mid int, l, r bounds) {
	for range 2 { // the second time in a cell that fits
		axis, ext := cell.longest()
		at := cell.lo[axis] + 0.5*ext
		if mid = b.part(lo, hi, axis, at); mid > lo && mid < hi && depth <= deepest {
			l, r = cell, cell
			l.hi[axis], r.lo[axis] = at, at
			return mid, l, r
		}
		cell = b.centres(lo, hi)
	}
	return (lo + hi) / 2, cell, cell
}

// part moves the prims whose doubled centre lies below the place to the front.
func (b *builder) part(lo, hi, axis int, place float32) int {
	i, j := lo, hi-1
	for i <= j {
		if p := &b.prims[i]; p.lo[axis]+p.hi[axis] < place {
			i++
		} else {
			b.prims[i], b.prims[j] = b.prims[j], b.prims[i]
			j--
		}
	}
	return i
}
