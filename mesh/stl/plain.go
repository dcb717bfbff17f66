package stl

import (
	"bytes"
	"context"

	"skinstock/mesh"
	"skinstock/mesh/internal/scan"
)

// plainRun are facets written the way nearly all programs write them: with
// three numbers for the normal, three corners, and nothing between the words but space.
type plainRun struct {
	corners  [][3][3]float32
	normals  normalCount
	n, lines int // bytes and ends of lines passed
}

// plainPiece is how many bytes of text are read side by side with others, at least.
const plainPiece = 32 << 10

var endFacet = []byte("endfacet")

// plain takes the facets that come next as long as they are plain and lie in the
// window, in pieces side by side. What it leaves is read word by word. It tries
// once a window, so that a file of other facets is not looked at again and again.
func (a *asciiReader) plain() {
	w := a.s.Window()
	if end := a.s.Offset() + int64(len(w)); end > a.tried {
		a.tried = end
	} else {
		return
	}
	starts := []int{0}
	for at := plainPiece; at < len(w); at += plainPiece {
		i := bytes.Index(w[at:], endFacet)
		if i < 0 {
			break
		}
		at += i + len(endFacet)
		starts = append(starts, at)
	}
	for len(a.runs) < len(starts) {
		a.runs = append(a.runs, plainRun{})
	}
	ends := append(starts[1:len(starts):len(starts)], len(w))
	_ = mesh.Spread(context.Background(), len(starts), 1, 0, func(_, i, _ int) error { // does not fail
		a.runs[i].read(w[starts[i]:], ends[i]-starts[i])
		return nil
	})
	for i := range starts {
		r := &a.runs[i]
		if len(r.corners) > a.opt.MaxFacets-a.soup.Len() {
			return // word by word to the one that is too much
		}
		a.s.SkipLines(r.n, r.lines)
		a.grow(len(r.corners))
		a.soup.Corners = append(a.soup.Corners, r.corners...)
		a.normals.notNumber += r.normals.notNumber
		a.normals.reversed += r.normals.reversed
		if r.n < ends[i]-starts[i] {
			return
		}
	}
}

// read takes the plain facets that begin in the first n bytes of w.
func (r *plainRun) read(w []byte, n int) {
	*r = plainRun{corners: r.corners[:0]}
	for r.n < n {
		c := cursor{w: w, i: r.n}
		var normal [3]float32
		var t [3][3]float32
		if !c.facet(&normal, &t) {
			return
		}
		r.corners = append(r.corners, t)
		r.normals.add(normal, &t)
		r.n, r.lines = c.i, r.lines+c.lines
	}
}

// cursor goes over a text that is in memory. Its methods return false where
// the text is not as they want it, or ends.
type cursor struct {
	w        []byte
	i, lines int
}

func (c *cursor) facet(normal *[3]float32, t *[3][3]float32) bool {
	if !c.word("facet") || !c.word("normal") || !c.numbers(normal) || !c.word("outer") || !c.word("loop") {
		return false
	}
	for k := range t {
		if !c.word("vertex") || !c.numbers(&t[k]) || !isFinite(t[k][0]) || !isFinite(t[k][1]) || !isFinite(t[k][2]) {
			return false
		}
	}
	return c.word("endloop") && c.word("endfacet")
}

// space passes space.
func (c *cursor) space() bool {
	for ; c.i < len(c.w) && c.w[c.i] <= ' '; c.i++ {
		switch c.w[c.i] {
		case '\n':
			c.lines++
		case '\r': // on its own it would end a line too
			if c.i+1 == len(c.w) || c.w[c.i+1] != '\n' {
				return false
			}
		}
	}
	return c.i < len(c.w)
}

// word passes space and the word low, in any case.
func (c *cursor) word(low string) bool {
	if !c.space() || !scan.HasPrefixFold(c.w[c.i:], low) {
		return false
	}
	c.i += len(low)
	return c.i < len(c.w) && c.w[c.i] <= ' '
}

// numbers passes three numbers.
func (c *cursor) numbers(v *[3]float32) bool {
	for k := range v {
		if !c.space() {
			return false
		}
		n := 0
		if v[k], n = scan.Float32Ahead(c.w[c.i:]); n == 0 {
			return false
		}
		c.i += n
	}
	return true
}
