package off

import (
	"errors"
	"fmt"
	"io"
	"math"

	"skinstock/mesh/file"
	"skinstock/mesh/internal/polygon"
	"skinstock/mesh/internal/scan"
)

// Options says how to read.
type Options struct {
	MaxFacets int // refuses files with more facets; 0 means file.MaxFacets
}

type reader struct {
	s       *scan.Scanner
	b       *polygon.Builder
	corners []int32
}

// Read reads an OFF file; the size in bytes is -1 when it is not known. Every
// error on account of the file's content is a *file.Error.
func Read(r io.Reader, size int64, opt Options) (*file.Part, error) {
	o := &reader{s: scan.New(r, size), b: polygon.NewBuilder(opt.MaxFacets)}
	if !o.s.Begin() {
		return nil, file.Empty()
	}
	if err := o.read(); err != nil {
		var e *file.Error
		if errors.As(err, &e) {
			e.Line = o.s.Line()
			return nil, e
		}
		return nil, fmt.Errorf("line %d: reading failed: %w", o.s.Line(), err)
	}
	return &file.Part{Format: file.OFF, Soup: o.b.Finish()}, nil
}

func (o *reader) read() error {
	vertices, faces, err := o.head()
	if err != nil {
		return err
	}
	for i := int64(0); i < vertices; i++ {
		if err := o.vertex(i, vertices); err != nil {
			return err
		}
	}
	for i := int64(0); i < faces; i++ {
		if err := o.face(i, faces); err != nil {
			return err
		}
	}
	if len(o.b.Soup.Corners) == 0 {
		return fail(file.ErrNoFacets, file.Export, "the file holds no faces")
	}
	if w, err := o.s.Word(); err != nil || w != nil {
		if err != nil {
			return o.long(err)
		}
		return fail(file.ErrSyntax, file.Export, "found %s behind the last of %d faces", file.Quote(w), faces)
	}
	return nil
}

// head reads the keyword and the counts. The count of edges may be missing and is not used.
func (o *reader) head() (vertices, faces int64, err error) {
	w, err := o.must("\"OFF\"")
	if err != nil {
		return 0, 0, err
	}
	switch string(w) {
	case "OFF", "COFF", "NOFF", "CNOFF", "STOFF", "STCOFF", "STNOFF", "STCNOFF":
	default:
		return 0, 0, fail(file.ErrFormat, file.Export, "the file begins with %s, an OFF file in three dimensions with \"OFF\"", file.Quote(w))
	}
	if vertices, err = o.count("vertices"); err != nil {
		return 0, 0, err
	}
	if faces, err = o.count("faces"); err != nil {
		return 0, 0, err
	}
	if vertices > math.MaxInt32 {
		return 0, 0, fail(file.ErrTooLarge, "coarsen the mesh", "the file announces %d vertices", vertices)
	}
	return vertices, faces, o.restOfLine()
}

func (o *reader) count(of string) (int64, error) {
	w, err := o.must("the number of " + of)
	if err != nil {
		return 0, err
	}
	if string(w) == "BINARY" {
		return 0, fail(file.ErrUnsupported, "export it as text", "this is the binary form of OFF")
	}
	n, ok := scan.Int(w)
	if !ok || n < 0 {
		return 0, fail(file.ErrNumber, file.Export, "found %s where the number of %s belongs", file.Quote(w), of)
	}
	return n, nil
}

// vertex reads x y z, and passes whatever else the line holds.
func (o *reader) vertex(i, of int64) error {
	var p [3]float32
	for k := range p {
		w, err := o.must("vertex")
		if err != nil {
			return ended(err, "vertex", i, of)
		}
		v, ok := scan.Float32(w)
		if !ok {
			return fail(file.ErrNumber, file.Export, "found %s where %c of vertex %d belongs", file.Quote(w), "xyz"[k], i+1)
		}
		if v-v != 0 {
			return fail(file.ErrNotFinite, file.Export, "%c of vertex %d is %s, not a finite number in single precision", "xyz"[k], i+1, file.Quote(w))
		}
		p[k] = v
	}
	o.b.Vertices = append(o.b.Vertices, p)
	return o.restOfLine()
}

// face reads the number of corners and the corners, and passes a colour behind them.
func (o *reader) face(i, of int64) error {
	n := int64(1) // first the number of corners
	o.corners = o.corners[:0]
	for k := int64(-1); k < n; k++ {
		w, err := o.must("face")
		if err != nil {
			return ended(err, "face", i, of)
		}
		v, ok := scan.Int(w)
		if !ok || v < 0 {
			return fail(file.ErrNumber, file.Export, "found %s in face %d where a number of corners or of a vertex belongs", file.Quote(w), i+1)
		}
		switch {
		case k >= 0:
			o.corners = append(o.corners, int32(min(v, math.MaxInt32)))
		case v > polygon.MaxCorners:
			return fail(file.ErrTooLarge, "export triangles", "face %d announces %d corners", i+1, v)
		default:
			n = v
		}
	}
	if err := o.b.Face(o.corners); err != nil {
		return err
	}
	return o.restOfLine()
}

// restOfLine passes the words that remain in this line.
func (o *reader) restOfLine() error {
	for {
		if w, err := o.s.WordInLine(); w == nil {
			return o.long(err)
		}
	}
}

// must returns the next word; the file must not end before it.
func (o *reader) must(wanted string) ([]byte, error) {
	w, err := o.s.Word()
	if err != nil {
		return nil, o.long(err)
	}
	if w == nil {
		return nil, fail(file.ErrTruncated, file.Copy, "the file ends where %s belongs", wanted)
	}
	return w, nil
}

// long turns the scanner's complaint about a long word into an error of the file.
func (o *reader) long(err error) error {
	if errors.Is(err, scan.ErrLongWord) {
		return fail(file.ErrSyntax, file.Export, "found %v", err)
	}
	return err
}

// ended says which vertex or face a file ends in.
func ended(err error, what string, i, of int64) error {
	var e *file.Error
	if errors.As(err, &e) && errors.Is(err, file.ErrTruncated) {
		e.Found = fmt.Sprintf("the file ends in %s %d of the %d that it announces", what, i+1, of)
	}
	return err
}

func fail(kind error, remedy, format string, args ...any) error {
	return &file.Error{Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: remedy, Err: kind}
}
