package arrange

import (
	"cmp"
	"context"
	"slices"

	"skinstock/mesh"
)

// cutting is the arrangement of the facets that cross: exact points, and the
// segments in which pairs of facets cross, divided where a third crosses both.
type cutting struct {
	s       *surface
	tree    *tree
	workers int
	work    *work

	planes map[int32]*plane // of the facets that cross others
	points []*point         // of vertex i for i < len(s.at), nil unless a cut facet has it; then the cut points
	segs   []segment        // one a crossing
	lists  [][]int32        // per cut facet (see cutFacets): its segments
	onEdge map[int32][]int32

	cutFacets []int32 // ascending
	index     []int32 // per facet: its place in cutFacets, or -1

	bad map[int32]bool // facets in a contact that exact arithmetic finds to be special after all
}

// segment is what two crossing facets share: points along a line, ends included.
type segment struct {
	a, b   int32 // facets
	points []int32
}

func newCutting(s *surface, t *tree, workers int, w *work, cs []contact) *cutting {
	c := &cutting{s: s, tree: t, workers: workers, work: w, planes: map[int32]*plane{}, onEdge: map[int32][]int32{}, bad: map[int32]bool{}}
	c.index = make([]int32, len(s.facets))
	for i := range c.index {
		c.index[i] = -1
	}
	for _, x := range cs {
		c.cutFacets = append(c.cutFacets, x.a, x.b)
	}
	slices.Sort(c.cutFacets)
	c.cutFacets = slices.Compact(c.cutFacets)
	for i, f := range c.cutFacets {
		c.index[f] = int32(i)
	}
	return c
}

// flag marks facets as being in special position.
func (c *cutting) flag(fs ...int32) {
	for _, f := range fs {
		c.bad[f] = true
	}
}

// prepare makes planes, exact corners, cut points and segments. The crossings
// must be all there are among the facets.
func (c *cutting) prepare(ctx context.Context, cs []contact) error {
	s := c.s
	planes := make([]*plane, len(c.cutFacets))
	err := parallel(ctx, c.workers, len(planes), 256, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			p, q, r := s.corners(c.cutFacets[i])
			planes[i] = newPlane(p, q, r)
		}
		return nil
	})
	if err != nil {
		return err
	}
	c.points = make([]*point, len(s.at))
	for i, f := range c.cutFacets {
		c.planes[f] = planes[i]
		for _, v := range s.facets[f] {
			if c.points[v] == nil {
				c.points[v] = explicitPoint(s.at[v])
			}
		}
	}
	if err := c.edgePoints(ctx, cs); err != nil {
		return err
	}
	c.lists = make([][]int32, len(c.cutFacets))
	for i, g := range c.segs {
		c.lists[c.index[g.a]] = append(c.lists[c.index[g.a]], int32(i))
		c.lists[c.index[g.b]] = append(c.lists[c.index[g.b]], int32(i))
	}
	return c.triplePoints(ctx)
}

// edgePoints makes the points in which edges pierce facets, each once, and the segments.
func (c *cutting) edgePoints(ctx context.Context, cs []contact) error {
	s := c.s
	ends := make([]end, 0, 2*len(cs))
	for _, x := range cs {
		for _, e := range x.ends {
			if e.edge != mesh.None {
				ends = append(ends, e)
			}
		}
	}
	order := func(a, b end) int { return cmp.Or(cmp.Compare(a.edge, b.edge), cmp.Compare(a.facet, b.facet)) }
	slices.SortFunc(ends, order)
	ends = slices.Compact(ends)
	base := int32(len(c.points))
	made := make([]*point, len(ends))
	err := parallel(ctx, c.workers, len(ends), 256, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			e := ends[i]
			made[i], _ = edgePoint(c.planes[e.facet], s.at[s.origin(e.edge)], s.at[s.target(e.edge)])
		}
		return nil
	})
	if err != nil {
		return err
	}
	c.points = append(c.points, made...)
	for i, e := range ends {
		c.onEdge[e.edge] = append(c.onEdge[e.edge], base+int32(i))
	}
	c.segs = make([]segment, len(cs))
	for i, x := range cs {
		g := segment{a: x.a, b: x.b}
		for _, e := range x.ends {
			p := e.facet
			if e.edge != mesh.None {
				k, _ := slices.BinarySearchFunc(ends, e, order)
				p = base + int32(k)
			}
			g.points = append(g.points, p)
		}
		c.segs[i] = g
	}
	return nil
}

type pair struct{ a, b int32 }

// triple is a point common to three facets, and the three segments it lies on.
type triple struct {
	a, b, c int32
	segs    [3]int32
}

// triplePoints finds where segments of one facet cross, makes the points and
// puts all points of every segment in order along it.
func (c *cutting) triplePoints(ctx context.Context) error {
	segOf := make(map[pair]int32, len(c.segs))
	for i, g := range c.segs {
		segOf[pair{g.a, g.b}] = int32(i)
	}
	const few = 64
	n := (len(c.cutFacets) + few - 1) / few
	found, bad := make([][]triple, n), make([][]int32, n)
	err := parallel(ctx, c.workers, len(c.cutFacets), few, func(part, lo, hi int) error {
		for i := lo; i < hi; i++ {
			var err error
			if found[part], bad[part], err = c.facetTriples(found[part], bad[part], i, segOf); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	c.flag(slices.Concat(bad...)...)
	triples := slices.Concat(found...)
	made := make([]*point, len(triples))
	err = parallel(ctx, c.workers, len(triples), few, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			t := triples[i]
			if p, ok := triplePoint(c.planes[t.a], c.planes[t.b], c.planes[t.c]); ok {
				made[i] = p
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, t := range triples {
		if made[i] == nil {
			c.flag(t.a, t.b, t.c)
			continue
		}
		id := int32(len(c.points))
		c.points = append(c.points, made[i])
		for _, g := range t.segs {
			c.segs[g].points = append(c.segs[g].points, id)
		}
	}
	for i := range c.segs {
		c.sortSegment(&c.segs[i])
	}
	return nil
}

// facetTriples finds the triple points of which cut facet number i is the least facet.
func (c *cutting) facetTriples(found []triple, bad []int32, i int, segOf map[pair]int32) ([]triple, []int32, error) {
	f := c.cutFacets[i]
	var mine []int32 // segments with greater facets; f is their a
	for _, g := range c.lists[i] {
		if c.segs[g].a == f {
			mine = append(mine, g)
		}
	}
	if len(mine) < 2 {
		return found, bad, nil
	}
	boxes := make([][6]float64, len(mine))
	for j, g := range mine {
		boxes[j] = c.segBox(&c.segs[g])
	}
	order := make([]int, len(mine))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(boxes[a][0], boxes[b][0]) })
	for x, j := range order {
		steps, before := int64(0), len(found)
		for _, k := range order[x+1:] {
			if boxes[k][0] > boxes[j][3] {
				break
			}
			steps++
			if !boxesMeet(&boxes[j], &boxes[k]) {
				continue
			}
			g, h := mine[min(j, k)], mine[max(j, k)]
			gb, hb := c.segs[g].b, c.segs[h].b
			both, ok := segOf[pair{min(gb, hb), max(gb, hb)}]
			if !ok {
				continue
			}
			switch c.segmentsCross(g, h) {
			case crossing:
				found = append(found, triple{f, min(gb, hb), max(gb, hb), [3]int32{g, h, both}})
			case touching:
				bad = append(bad, f, gb, hb)
			}
		}
		if err := c.work.spend(steps + pointSteps*int64(len(found)-before)); err != nil {
			return nil, nil, err
		}
	}
	return found, bad, nil
}

// segBox returns a box that surely holds the segment, in grid units.
func (c *cutting) segBox(g *segment) (b [6]float64) {
	p, q := c.points[g.points[0]].at, c.points[g.points[1]].at
	for k := range 3 {
		slack := 8 * approxErr * max(p[k], -p[k], q[k], -q[k])
		b[k], b[k+3] = min(p[k], q[k])-slack, max(p[k], q[k])+slack
	}
	return b
}

func boxesMeet(a, b *[6]float64) bool {
	for k := range 3 {
		if a[k] > b[k+3] || b[k] > a[k+3] {
			return false
		}
	}
	return true
}

// segmentsCross tells whether two segments of one facet cross, by the sides of
// their ends against the other segment's facet.
func (c *cutting) segmentsCross(g, h int32) kind {
	x, y := &c.segs[g], &c.segs[h]
	for _, p := range x.points[:2] {
		if p == y.points[0] || p == y.points[1] {
			return apart // both start at a common end: they leave it along different lines
		}
	}
	other := func(seg *segment) int32 { return seg.b }
	s1 := c.planes[other(y)].side(c.points[x.points[0]])
	s2 := c.planes[other(y)].side(c.points[x.points[1]])
	if s1*s2 > 0 {
		return apart
	}
	s3 := c.planes[other(x)].side(c.points[y.points[0]])
	s4 := c.planes[other(x)].side(c.points[y.points[1]])
	if s3*s4 > 0 {
		return apart
	}
	if s1 == 0 || s2 == 0 || s3 == 0 || s4 == 0 {
		return touching
	}
	return crossing
}

// sortSegment puts the points of a segment in order from its first end to its second.
func (c *cutting) sortSegment(g *segment) {
	if len(g.points) == 2 {
		return
	}
	p, q := c.points[g.points[0]], c.points[g.points[1]]
	last := g.points[1]
	inner := append([]int32(nil), g.points[2:]...)
	less, ok := along(p, q)
	if !ok {
		c.flag(g.a, g.b)
		return
	}
	slices.SortFunc(inner, func(a, b int32) int { return less(c.points[a], c.points[b]) })
	g.points = append(append(g.points[:1], inner...), last)
	for i := 1; i < len(g.points); i++ {
		if less(c.points[g.points[i-1]], c.points[g.points[i]]) >= 0 {
			c.flag(g.a, g.b)
		}
	}
}

// along returns an exact order of points on the line from p to q.
func along(p, q *point) (func(a, b *point) int, bool) {
	best := 0
	width := func(k int) float64 { return max(p.at[k]-q.at[k], q.at[k]-p.at[k]) }
	for k := 1; k < 3; k++ {
		if width(k) > width(best) {
			best = k
		}
	}
	for d := range 3 {
		k := (best + d) % 3
		if s := compare(p, q, k); s != 0 {
			return func(a, b *point) int { return -s * compare(a, b, k) }, true
		}
	}
	return nil, false
}
