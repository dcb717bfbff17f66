package arrange

import (
	"cmp"
	"slices"

	"skinstock/mesh"
)

// levels groups facets and pieces whose winding numbers are known relative to
// each other: a disjoint-set forest in which every node carries the difference
// of its front side's winding number to its parent's.
type levels struct {
	parent []int32
	diff   []int32
}

func newLevels(n int) *levels {
	l := &levels{parent: make([]int32, n), diff: make([]int32, n)}
	for i := range l.parent {
		l.parent[i] = int32(i)
	}
	return l
}

// find returns the root of x and x's winding number less the root's.
func (l *levels) find(x int32) (root, diff int32) {
	root = x
	for l.parent[root] != root {
		diff += l.diff[root]
		root = l.parent[root]
	}
	for d := diff; l.parent[x] != x; {
		up, du := l.parent[x], l.diff[x]
		l.parent[x], l.diff[x] = root, d
		d -= du
		x = up
	}
	return root, diff
}

// join enters that the winding number in front of y is that in front of x plus
// d, and tells whether this agrees with what was known.
func (l *levels) join(x, y, d int32) bool {
	rx, dx := l.find(x)
	ry, dy := l.find(y)
	if rx == ry {
		return dy == dx+d
	}
	// The least number becomes the root, so the result does not depend on the order of joining.
	if ry < rx {
		l.parent[rx], l.diff[rx] = ry, dy-dx-d
		return true
	}
	l.parent[ry], l.diff[ry] = rx, dx+d-dy
	return true
}

// rim is one side of a piece, or of a whole facet beside a cut one.
type rim struct {
	lo, hi int32 // points
	tag    int32
	node   int32
	up     bool  // runs from lo to hi
	behind int32 // 1 when the piece lies behind the segment's other facet, else 0
}

// patches joins whole facets (nodes by their numbers) and pieces (nodes from
// len(facets) on, those of the parts of the rest behind them) across uncut sides
// and around cut ones.
func (c *cutting) patches(subs []subFacet) *levels {
	s := c.s
	nf := int32(len(s.facets))
	far := nf + int32(len(subs))
	l := newLevels(int(far) + s.rest.parts())
	rims := make([]rim, 0, 3*(len(subs)+len(c.cutFacets)))
	for f := range nf {
		if c.index[f] >= 0 {
			continue
		}
		for k := range int32(3) {
			t := s.twin[3*f+k]
			switch {
			case t == mesh.None:
				l.join(f, far+s.beyond(3*f+k), 0)
			case c.index[t/3] >= 0:
				rims = append(rims, newRim(s.origin(3*f+k), s.target(3*f+k), wall, f))
			case t/3 > f:
				l.join(f, t/3, 0)
			}
		}
	}
	for i := range subs {
		q := &subs[i]
		for k := range 3 {
			r := newRim(q.v[k], q.v[(k+1)%3], q.tag[k], nf+int32(i))
			if r.tag >= 0 {
				g := &c.segs[r.tag]
				other := g.a
				if other == q.parent {
					other = g.b
				}
				if c.planes[other].side(c.points[q.v[(k+2)%3]]) < 0 {
					r.behind = 1
				}
			}
			rims = append(rims, r)
		}
	}
	rims = sortRims(rims, len(c.points))
	parentOf := func(node int32) int32 {
		if node < nf {
			return node
		}
		return subs[node-nf].parent
	}
	for i := 0; i < len(rims); {
		j := i + 1
		for j < len(rims) && rims[j].lo == rims[i].lo && rims[j].hi == rims[i].hi {
			j++
		}
		group := rims[i:j]
		ok := soundGroup(group)
		for _, r := range group[1:] {
			ok = l.join(group[0].node, r.node, r.behind-group[0].behind) && ok
		}
		if !ok {
			for _, r := range group {
				c.flag(parentOf(r.node))
			}
		}
		i = j
	}
	return l
}

// sortRims orders rims by their points, then by node: they go into buckets by
// their lower point, which hold a few each. points is the number of points.
func sortRims(rims []rim, points int) []rim {
	start := make([]int32, points+1)
	for i := range rims {
		start[rims[i].lo+1]++
	}
	for i := range points {
		start[i+1] += start[i]
	}
	out := make([]rim, len(rims))
	next := slices.Clone(start[:points])
	for i := range rims {
		lo := rims[i].lo
		out[next[lo]] = rims[i]
		next[lo]++
	}
	for i := range points {
		slices.SortFunc(out[start[i]:start[i+1]], func(a, b rim) int {
			return cmp.Or(cmp.Compare(a.hi, b.hi), cmp.Compare(a.node, b.node))
		})
	}
	return out
}

func newRim(u, v, tag, node int32) rim {
	return rim{lo: min(u, v), hi: max(u, v), tag: tag, node: node, up: u < v}
}

// soundGroup tells whether the sides between two points are what they must be:
// two of opposite direction, or four around a segment.
func soundGroup(g []rim) bool {
	up, want := 0, 2
	if g[0].tag >= 0 {
		want = 4
	}
	for _, r := range g {
		if r.up {
			up++
		}
		if (r.tag >= 0 || g[0].tag >= 0) && r.tag != g[0].tag {
			return false
		}
	}
	return len(g) == want && up == want/2
}
