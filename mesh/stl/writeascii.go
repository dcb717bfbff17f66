package stl

import (
	"fmt"
	"io"
	"strconv"

	"skinstock/mesh"
)

// WriteASCII writes an ASCII STL file, every solid of the mesh with its name
// and in its order, with the shortest numbers that read back as the same
// single-precision values. The name is that of a mesh without solids and of
// facets in none. Attribute words have no place in this form and are lost.
func WriteASCII(w io.Writer, m *mesh.Mesh, name string) error {
	a := &asciiWriter{w: w, m: m, buf: make([]byte, 0, flushAt+maxFacetText)}
	next := 0
	for _, s := range m.Solids {
		if s.First < next || s.Count < 0 || s.First+s.Count > len(m.Facets) {
			return fmt.Errorf("solid %q: facets %d to %d do not follow facet %d of %d", s.Name, s.First, s.First+s.Count, next, len(m.Facets))
		}
		if s.First > next {
			a.solid(name, next, s.First)
		}
		a.solid(s.Name, s.First, s.First+s.Count)
		next = s.First + s.Count
	}
	if next < len(m.Facets) || len(m.Solids) == 0 {
		a.solid(name, next, len(m.Facets))
	}
	a.flush()
	return a.err
}

const (
	flushAt      = 64 << 10
	maxFacetText = 512 // 12 numbers of up to 14 bytes, and the words
)

type asciiWriter struct {
	w   io.Writer
	m   *mesh.Mesh
	buf []byte
	err error
}

func (a *asciiWriter) flush() {
	if a.err == nil {
		_, a.err = a.w.Write(a.buf)
	}
	a.buf = a.buf[:0]
}

// line adds a line; an empty name leaves no space at its end.
func (a *asciiWriter) line(word, name string) {
	a.buf = append(a.buf, word...)
	if name != "" {
		a.buf = append(a.buf, ' ')
		a.buf = append(a.buf, name...)
	}
	a.buf = append(a.buf, '\n')
}

// solid writes facets first to last-1.
func (a *asciiWriter) solid(name string, first, last int) {
	name = writableName(name)
	a.line("solid", name)
	for f := first; f < last && a.err == nil; f++ {
		t := corners(a.m, f)
		for k := range 3 {
			for _, v := range t[k] {
				if !isFinite(v) {
					a.err = notFinite(a.m, f)
					return
				}
			}
		}
		a.buf = append(a.buf, " facet normal"...)
		a.triple(normal(&t))
		a.buf = append(a.buf, "  outer loop\n"...)
		for k := range 3 {
			a.buf = append(a.buf, "   vertex"...)
			a.triple(t[k])
		}
		a.buf = append(a.buf, "  endloop\n endfacet\n"...)
		if len(a.buf) >= flushAt {
			a.flush()
		}
	}
	a.line("endsolid", name)
}

// triple adds three numbers and ends the line.
func (a *asciiWriter) triple(p [3]float32) {
	for _, v := range p {
		a.buf = append(a.buf, ' ')
		a.buf = strconv.AppendFloat(a.buf, float64(v), 'g', -1, 32)
	}
	a.buf = append(a.buf, '\n')
}
