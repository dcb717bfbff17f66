package arrange

import (
	"context"
	"slices"
)

// constrain makes the segment u-v a side, marked with tag, by flipping the
// sides that cross it (Sloan 1993).
func (t *triangulation) constrain(u, v, tag int32) error {
	crossed, found, err := t.crossed(u, v)
	if err != nil {
		return err
	}
	for n := 0; len(crossed) > 0; n++ {
		if n > 16*len(t.pieces)*len(t.pieces)+64 {
			return errSpecial
		}
		e := crossed[0]
		crossed = crossed[1:]
		f, k, ok := t.findSide(e[0], e[1])
		if !ok {
			return errSpecial
		}
		if !t.flip(f, k) {
			crossed = append(crossed, e)
			continue
		}
		// The new diagonal joins corner 0 of f and corner 2 of f (a and d).
		a, d := t.pieces[f].v[0], t.pieces[f].v[2]
		if a == u && d == v || a == v && d == u {
			found = true
			continue
		}
		if a != u && a != v && d != u && d != v && t.turn(u, v, a)*t.turn(u, v, d) < 0 {
			crossed = append(crossed, [2]int32{a, d})
		}
	}
	f, k, ok := t.findSide(u, v)
	if !ok || !found {
		return errSpecial
	}
	t.mark(f, k, tag)
	return nil
}

// mark sets the tag of a side on both of its pieces.
func (t *triangulation) mark(f int32, k int, tag int32) {
	g := t.pieces[f].n[k]
	if g >= 0 {
		_, m := t.opposite(f, k)
		t.pieces[g].tag[m] = tag
	}
	t.pieces[f].tag[k] = tag
}

// findSide returns a piece and its side that joins u and v.
func (t *triangulation) findSide(u, v int32) (int32, int, bool) {
	var f int32
	var k int
	ok := false
	t.around(u, func(g int32, m int) bool {
		switch {
		case t.pieces[g].v[(m+1)%3] == v:
			f, k, ok = g, (m+2)%3, true
		case t.pieces[g].v[(m+2)%3] == v:
			f, k, ok = g, (m+1)%3, true
		}
		return !ok
	})
	return f, k, ok
}

// around calls see with every piece around point u and its corner there, until
// see says stop.
func (t *triangulation) around(u int32, see func(f int32, k int) bool) {
	start := t.at[u]
	f := start
	for {
		k := t.corner(f, u)
		if !see(f, k) {
			return
		}
		f = t.pieces[f].n[(k+1)%3] // counterclockwise: over the side from the third corner to u
		if f == start {
			return
		}
		if f < 0 {
			break
		}
	}
	for f = start; ; {
		k := t.corner(f, u)
		f = t.pieces[f].n[(k+2)%3]
		if f < 0 || f == start {
			return
		}
		if !see(f, t.corner(f, u)) {
			return
		}
	}
}

// crossed lists the sides that the segment u-v crosses, in order; found tells
// that u-v is a side already.
func (t *triangulation) crossed(u, v int32) (list [][2]int32, found bool, err error) {
	if _, _, ok := t.findSide(u, v); ok {
		return nil, true, nil
	}
	f, k := int32(-1), 0
	t.around(u, func(g int32, m int) bool {
		a, b := t.pieces[g].v[(m+1)%3], t.pieces[g].v[(m+2)%3]
		sa, sb := t.turn(u, v, a), t.turn(u, v, b)
		if sa < 0 && sb > 0 {
			f, k = g, m
			return false
		}
		return true
	})
	if f < 0 {
		return nil, false, errSpecial
	}
	for {
		q := &t.pieces[f]
		a, b := q.v[(k+1)%3], q.v[(k+2)%3]
		if q.tag[k] != free {
			return nil, false, errSpecial
		}
		list = append(list, [2]int32{a, b})
		g, m := t.opposite(f, k)
		c := t.pieces[g].v[m]
		if c == v {
			return list, false, nil
		}
		s := t.turn(u, v, c)
		if s == 0 {
			return nil, false, errSpecial
		}
		// g is c, b, a: go on over the side from c to the end on the other side of u-v.
		f = g
		if s > 0 { // c lies with b, leave over c-a, opposite to b
			k = t.corner(g, b)
		} else {
			k = t.corner(g, a)
		}
	}
}

// improve flips all free sides by the circle rule.
func (t *triangulation) improve() {
	for range 8 {
		flipped := false
		for f := range t.pieces {
			for k := range 3 {
				if t.wantsFlip(int32(f), k) && t.flip(int32(f), k) {
					flipped = true
				}
			}
		}
		if !flipped {
			return
		}
	}
}

// subFacet is a piece of a cut facet with the numbers of all points, and for
// the side from corner k to corner k+1 the segment it lies on, or wall or free.
type subFacet struct {
	parent int32
	v      [3]int32
	tag    [3]int32
}

// divide triangulates cut facet number i.
func (c *cutting) divide(i int) ([]subFacet, error) {
	f := c.cutFacets[i]
	local := map[int32]int32{}
	var uniq []int32
	var pts []*point
	var lines [][2]int32
	add := func(id, line int32) {
		l, ok := local[id]
		if !ok {
			l = int32(len(uniq))
			local[id] = l
			uniq, pts, lines = append(uniq, id), append(pts, c.points[id]), append(lines, [2]int32{none, none})
		}
		if at := &lines[l]; at[0] == none {
			at[0] = line
		} else if at[1] == none {
			at[1] = line
		}
	}
	corners := c.s.facets[f]
	for k := range int32(3) {
		add(corners[k], k)
	}
	for k := range int32(3) {
		add(corners[(k+1)%3], k)
		for _, p := range c.onEdge[c.s.edge(3*f+k)] {
			add(p, k)
		}
	}
	for n, g := range c.lists[i] {
		for _, p := range c.segs[g].points {
			add(p, 3+int32(n))
		}
	}
	if slices.Contains(pts, nil) {
		return nil, errSpecial
	}
	t, err := newTriangulation(pts, lines, c.planes[f])
	if err != nil {
		return nil, err
	}
	for _, g := range c.lists[i] {
		p := c.segs[g].points
		for k := 1; k < len(p); k++ {
			if err := t.constrain(local[p[k-1]], local[p[k]], g); err != nil {
				return nil, err
			}
		}
	}
	t.improve()
	subs := make([]subFacet, len(t.pieces))
	for k, q := range t.pieces {
		// The side from corner k to k+1 is opposite to corner k+2.
		subs[k] = subFacet{parent: f, v: [3]int32{uniq[q.v[0]], uniq[q.v[1]], uniq[q.v[2]]}, tag: [3]int32{q.tag[2], q.tag[0], q.tag[1]}}
	}
	return subs, nil
}

// divideAll triangulates every cut facet; facets in special position are flagged.
func (c *cutting) divideAll(ctx context.Context) ([][]subFacet, error) {
	subs := make([][]subFacet, len(c.cutFacets))
	special := make([]bool, len(c.cutFacets))
	err := parallel(ctx, c.workers, len(c.cutFacets), 32, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			s, err := c.divide(i)
			subs[i], special[i] = s, err != nil
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i, bad := range special {
		if bad {
			c.flag(c.cutFacets[i])
			for _, g := range c.lists[i] {
				c.flag(c.segs[g].a, c.segs[g].b)
			}
		}
	}
	return subs, nil
}
