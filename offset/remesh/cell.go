package remesh

// ends are the corners that edge e of a cell joins, lower first: edges 4a to
// 4a+3 run along axis a.
var ends = func() (out [12][2]int) {
	for axis := range 3 {
		for j := range 4 {
			low := 0
			bit := 0
			for b := range 3 {
				if b != axis {
					low |= (j >> bit & 1) << b
					bit++
				}
			}
			out[4*axis+j] = [2]int{low, low | 1<<axis}
		}
	}
	return out
}()

// edgeBetween is the edge between two corners of a cell.
var edgeBetween = func() (out [8][8]int8) {
	for e, c := range ends {
		out[c[0]][c[1]], out[c[1]][c[0]] = int8(e), int8(e)
	}
	return out
}()

// faceCorners are the corners of face 2a+s, on side s of axis a, in turn.
var faceCorners = func() (out [6][4]int) {
	for axis := range 3 {
		b, c := (axis+1)%3, (axis+2)%3
		for side := range 2 {
			for i, uv := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
				out[2*axis+side][i] = side<<axis | uv[0]<<b | uv[1]<<c
			}
		}
	}
	return out
}()

func (c cell) in(corner int) bool { return c.mask>>corner&1 != 0 }

// cut tells whether the surface cuts edge e.
func (c cell) cut(e int) bool { return c.in(ends[e][0]) != c.in(ends[e][1]) }

// edge returns the lower end and the axis of edge e.
func (c cell) edge(e int) (at key, axis int) { return c.at.corner(ends[e][0]), e / 4 }

// edgeCells returns the four cells around the edge from at along an axis,
// counterclockwise seen from its upper end.
func edgeCells(at key, axis int) [4]key {
	b, c := step((axis+1)%3), step((axis+2)%3)
	return [4]key{at - b - c, at - c, at, at - b}
}

// edgeIn returns the number that an edge along axis has in the i-th of its edgeCells.
func edgeIn(axis, i int) int {
	b, c := (axis+1)%3, (axis+2)%3
	low := 0
	if i == 0 || i == 3 {
		low |= 1 << b
	}
	if i == 0 || i == 1 {
		low |= 1 << c
	}
	return int(edgeBetween[low][low|1<<axis])
}

// ambiguous tells whether the corners of face f lie in and out of the metal in turn.
func (c cell) ambiguous(f int) bool {
	k := faceCorners[f]
	return c.in(k[0]) == c.in(k[2]) && c.in(k[1]) == c.in(k[3]) && c.in(k[0]) != c.in(k[1])
}

// segments returns the two pairs of edges that are joined over an ambiguous
// face: those around the corners in the metal, or with flip those around the others.
func (c cell) segments(f int, flip bool) (out [2][2]int8) {
	k := faceCorners[f]
	first := 0
	if c.in(k[0]) == flip {
		first = 1
	}
	for s := range 2 {
		i := first + 2*s
		out[s] = [2]int8{edgeBetween[k[i]][k[(i+1)%4]], edgeBetween[k[i]][k[(i+3)%4]]}
	}
	return out
}

// parted returns the sheet that each edge belongs to, -1 for edges that are
// not cut, and the number of sheets. flip says by face how ambiguous ones are joined.
func (c cell) parted(flip [6]bool) (sheet [12]int8, count int8) {
	var to [12]int8
	for e := range to {
		to[e] = int8(e)
	}
	find := func(e int8) int8 {
		for to[e] != e {
			e = to[e]
		}
		return e
	}
	join := func(a, b int8) {
		a, b = find(a), find(b)
		to[max(a, b)] = min(a, b)
	}
	for f := range 6 {
		if c.ambiguous(f) {
			for _, s := range c.segments(f, flip[f]) {
				join(s[0], s[1])
			}
			continue
		}
		last := int8(-1)
		k := faceCorners[f]
		for i := range 4 {
			if c.in(k[i]) != c.in(k[(i+1)%4]) {
				e := edgeBetween[k[i]][k[(i+1)%4]]
				if last >= 0 {
					join(last, e)
				}
				last = e
			}
		}
	}
	for e := range sheet {
		sheet[e] = -1
		if c.cut(e) {
			if r := find(int8(e)); int(r) == e {
				sheet[e] = count
				count++
			} else {
				sheet[e] = sheet[r]
			}
		}
	}
	return sheet, count
}

// flips tells by face whether an ambiguous one must be parted the other way:
// where both cells beside it would join its two segments in one sheet, the two
// dual edges through it would be one edge with four facets.
func (g *grid) flips(i int) (flip [6]bool) {
	c := g.cells[i]
	for f := range 6 {
		if !c.ambiguous(f) || !joined(c, f) {
			continue
		}
		side, axis := f&1, f/2
		n := c.at - step(axis)
		if side == 1 {
			n = c.at + step(axis)
		}
		if j, ok := g.index[n]; ok {
			flip[f] = joined(g.cells[j], f^1)
		}
	}
	return flip
}

// joined tells whether the two segments on face f belong to one sheet.
func joined(c cell, f int) bool {
	sheet, _ := c.parted([6]bool{})
	s := c.segments(f, false)
	return sheet[s[0][0]] == sheet[s[1][0]]
}
