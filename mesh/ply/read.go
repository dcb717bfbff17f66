package ply

import (
	"errors"
	"fmt"
	"io"
	"math"

	"skinstock/mesh/file"
	"skinstock/mesh/finding"
	"skinstock/mesh/internal/polygon"
	"skinstock/mesh/internal/scan"
)

// Options says how to read.
type Options struct {
	MaxFacets int // refuses files with more facets; 0 means file.MaxFacets
}

type reader struct {
	s       *scan.Scanner
	h       *header
	b       *polygon.Builder
	source  source
	corners []int32
}

// source gives the values of the records one after the other.
type source interface {
	number(k kind) (float64, error)
	skip(k kind, n int64) error
}

// errEnd tells that the file ended inside a record.
var errEnd = errors.New("end of file")

// Read reads a PLY file; the size in bytes is -1 when it is not known. Every
// error on account of the file's content is a *file.Error.
func Read(r io.Reader, size int64, opt Options) (*file.Part, error) {
	p := &reader{s: scan.New(r, size), b: polygon.NewBuilder(opt.MaxFacets)}
	if head := p.s.Peek(1); len(head) == 0 && p.s.Err() == nil {
		return nil, file.Empty()
	}
	part := &file.Part{Format: file.PLY}
	err := p.read()
	if err == nil {
		err = p.beyond(part)
	}
	if err == nil {
		part.Soup = p.b.Finish()
		return part, nil
	}
	var e *file.Error
	if !errors.As(err, &e) {
		return nil, fmt.Errorf("byte %d: reading failed: %w", p.s.Offset(), err)
	}
	if p.h != nil && p.h.form != text {
		e.Offset = p.s.Offset()
	} else {
		e.Line = p.s.Line()
	}
	return nil, e
}

func (p *reader) read() error {
	h, err := readHeader(p.s)
	if err != nil {
		return err
	}
	p.h = h
	if h.form == text {
		p.source = &textSource{p.s}
	} else {
		p.source = newBinarySource(p.s, h.form)
	}
	for i := range h.elements {
		if err := p.element(&h.elements[i]); err != nil {
			return err
		}
	}
	if len(p.b.Soup.Corners) == 0 {
		return fail(file.ErrNoFacets, file.Export, "the file holds no faces")
	}
	return nil
}

// CodeTrailing marks bytes behind the last record of a binary file.
const CodeTrailing = "trailing_bytes"

// beyond looks at what follows the last record.
func (p *reader) beyond(part *file.Part) error {
	if p.h.form == text {
		w, err := p.source.(*textSource).word()
		if err == nil {
			err = fail(file.ErrSyntax, file.Export, "found %s behind the last record that the header announces", file.Quote(w))
		}
		if errors.Is(err, errEnd) {
			return nil
		}
		return err
	}
	n := 0
	for more := true; more; more = p.s.Fill() {
		n += len(p.s.Window())
		p.s.Skip(len(p.s.Window()))
	}
	if n > 0 {
		part.Note(finding.Warning, CodeTrailing, n, fmt.Sprintf("%d bytes behind the last record are ignored", n))
	}
	return p.s.Err()
}

// element reads all records of an element.
func (p *reader) element(e *element) error {
	if len(e.properties) == 0 {
		return nil // its records take no room
	}
	take := p.pass
	switch e.name {
	case "vertex":
		if e.records > math.MaxInt32 {
			return fail(file.ErrTooLarge, "coarsen the mesh", "the header announces %d vertices", e.records)
		}
		at, err := e.coordinates()
		if err != nil {
			return err
		}
		take = func(e *element) error { return p.vertex(e, at) }
	case "face":
		at, err := e.cornerList()
		if err != nil {
			return err
		}
		take = func(e *element) error { return p.face(e, at) }
	case "tristrips":
		return fail(file.ErrUnsupported, "export triangles", "the surface is made of triangle strips")
	}
	for i := int64(0); i < e.records; i++ {
		if err := take(e); err != nil {
			if errors.Is(err, errEnd) {
				return fail(file.ErrTruncated, file.Copy, "the file ends in %s %d of the %d that its header announces", file.Plain(e.name), i+1, e.records)
			}
			return err
		}
	}
	return nil
}

// coordinates returns which properties of the vertices are x, y and z.
func (e *element) coordinates() (at [3]int, err error) {
	for k, name := range []string{"x", "y", "z"} {
		at[k] = -1
		for i, p := range e.properties {
			if p.name == name && p.count == none {
				at[k] = i
			}
		}
		if at[k] < 0 {
			return at, fail(file.ErrSyntax, file.Export, "the vertices have no %s", name)
		}
	}
	return at, nil
}

// cornerList returns which property of the faces lists the corners.
func (e *element) cornerList() (int, error) {
	for i, p := range e.properties {
		if (p.name == "vertex_indices" || p.name == "vertex_index") && p.count != none && p.value < float32s {
			return i, nil
		}
	}
	return 0, fail(file.ErrSyntax, file.Export, "the faces have no list vertex_indices of whole numbers")
}

// pass passes a record.
func (p *reader) pass(e *element) error {
	for _, q := range e.properties {
		if err := p.passProperty(q); err != nil {
			return err
		}
	}
	return nil
}

func (p *reader) passProperty(q property) error {
	n := int64(1)
	if q.count != none {
		v, err := p.length(q)
		if err != nil {
			return err
		}
		n = v
	}
	return p.source.skip(q.value, n)
}

// length reads the length of a list.
func (p *reader) length(q property) (int64, error) {
	v, err := p.source.number(q.count)
	if err == nil && (v < 0 || v != math.Trunc(v) || v > math.MaxUint32) {
		err = fail(file.ErrNumber, file.Export, "a list has the length %v", v)
	}
	return int64(v), err
}

// vertex reads the record of a vertex.
func (p *reader) vertex(e *element, at [3]int) error {
	var v [3]float32
	for i, q := range e.properties {
		if i != at[0] && i != at[1] && i != at[2] {
			if err := p.passProperty(q); err != nil {
				return err
			}
			continue
		}
		x, err := p.source.number(q.value)
		if err != nil {
			return err
		}
		f := float32(x)
		if f-f != 0 {
			return fail(file.ErrNotFinite, file.Export, "%s of vertex %d is %v, not a finite number in single precision", q.name, len(p.b.Vertices)+1, x)
		}
		for k := range v {
			if at[k] == i {
				v[k] = f
			}
		}
	}
	p.b.Vertices = append(p.b.Vertices, v)
	return nil
}

// face reads the record of a face.
func (p *reader) face(e *element, at int) error {
	for i, q := range e.properties {
		if i != at {
			if err := p.passProperty(q); err != nil {
				return err
			}
			continue
		}
		n, err := p.length(q)
		if err != nil {
			return err
		}
		if n > polygon.MaxCorners {
			return fail(file.ErrTooLarge, "export triangles", "a face has %d corners", n)
		}
		p.corners = p.corners[:0]
		for range n {
			v, err := p.source.number(q.value)
			if err != nil {
				return err
			}
			if v != math.Trunc(v) || v < 0 || v > math.MaxInt32 {
				return fail(file.ErrIndex, file.Export, "a face uses vertex %v", v)
			}
			p.corners = append(p.corners, int32(v))
		}
	}
	return p.b.Face(p.corners)
}
