package obj

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"skinstock/mesh/file"
	"skinstock/mesh/finding"
	"skinstock/mesh/internal/polygon"
	"skinstock/mesh/internal/scan"
)

// Options says how to read.
type Options struct {
	MaxFacets int // refuses files with more facets; 0 means file.MaxFacets
}

// CodeLines marks lines and points, which have no surface.
const CodeLines = "lines_left_out"

type reader struct {
	s       *scan.Scanner
	b       *polygon.Builder
	corners []int32
	name    []byte
	lines   int // l and p elements
}

// Read reads an OBJ file; the size in bytes is -1 when it is not known. Every
// error on account of the file's content is a *file.Error.
func Read(r io.Reader, size int64, opt Options) (*file.Part, error) {
	o := &reader{s: scan.New(r, size), b: polygon.NewBuilder(opt.MaxFacets)}
	if !o.s.Begin() {
		return nil, file.Empty()
	}
	for {
		if err := o.line(); err != nil {
			return nil, o.place(err)
		}
		if !o.s.NextLine() {
			break
		}
	}
	if err := o.s.Err(); err != nil {
		return nil, o.place(err)
	}
	p := &file.Part{Format: file.OBJ, Soup: o.b.Finish()}
	if len(p.Soup.Corners) == 0 {
		return nil, &file.Error{Offset: -1, Found: "the file holds no faces", Remedy: file.Export, Err: file.ErrNoFacets}
	}
	if o.lines > 0 {
		p.Note(finding.Info, CodeLines, o.lines, fmt.Sprintf("lines and points have no surface and are left out: %d", o.lines))
	}
	return p, nil
}

// place adds the line to an error.
func (o *reader) place(err error) error {
	var e *file.Error
	switch {
	case errors.As(err, &e):
		e.Line = o.s.Line()
		return e
	case errors.Is(err, scan.ErrLongWord):
		return &file.Error{Line: o.s.Line(), Offset: -1, Found: "found " + err.Error(), Remedy: file.Export, Err: file.ErrSyntax}
	}
	return fmt.Errorf("line %d: reading failed: %w", o.s.Line(), err)
}

// line reads one statement.
func (o *reader) line() error {
	w, err := o.word()
	if err != nil || w == nil {
		return err
	}
	switch string(w) {
	case "v":
		return o.vertex()
	case "f", "fo":
		return o.face()
	case "o":
		o.name = o.s.RestOfLine(o.name[:0])
		o.b.Begin(strings.TrimSpace(string(o.name)))
	case "l", "p":
		o.lines++
		return o.rest()
	case "curv", "curv2", "surf", "cstype":
		return fail(file.ErrUnsupported, "export triangles", "found %s, a free-form curve or surface", file.Quote(w))
	case "vt", "vn", "vp", "g", "s", "usemtl", "mtllib", "mg", "usemap", "maplib", "lod", "bevel",
		"c_interp", "d_interp", "shadow_obj", "trace_obj", "deg", "bmat", "step", "parm", "trim", "hole", "scrv", "sp", "end", "con":
		return o.rest()
	default:
		kind := file.ErrSyntax
		if len(o.b.Vertices) == 0 {
			kind = file.ErrFormat
		}
		return fail(kind, file.Export, "found %s, which begins no statement of an OBJ file", file.Quote(w))
	}
	return nil
}

// rest passes the words of a statement, also over line ends with a backslash before them.
func (o *reader) rest() error {
	for {
		if w, err := o.word(); w == nil {
			return err
		}
	}
}

// word returns the next word of the statement, or nil at its end. A backslash
// at the end of a line carries the statement on.
func (o *reader) word() ([]byte, error) {
	for {
		w, err := o.s.WordInLine()
		if err != nil || len(w) != 1 || w[0] != '\\' {
			return w, err
		}
		if !o.s.NextLine() {
			return nil, o.s.Err()
		}
	}
}

// vertex reads x y z; a weight or a colour behind them is passed over.
func (o *reader) vertex() error {
	if len(o.b.Vertices) == math.MaxInt32 {
		return fail(file.ErrTooLarge, "coarsen the mesh", "more than %d vertices", math.MaxInt32)
	}
	var p [3]float32
	for i := range p {
		w, err := o.word()
		if err != nil {
			return err
		}
		v, ok := scan.Float32(w)
		if !ok {
			return fail(file.ErrNumber, file.Export, "found %s where %c of a vertex belongs", found(w), "xyz"[i])
		}
		if v-v != 0 {
			return fail(file.ErrNotFinite, file.Export, "%c of a vertex is %s, not a finite number in single precision", "xyz"[i], file.Quote(w))
		}
		p[i] = v
	}
	o.b.Vertices = append(o.b.Vertices, p)
	return o.rest()
}

// face reads corners v, v/vt, v//vn or v/vt/vn; only v counts.
func (o *reader) face() error {
	o.corners = o.corners[:0]
	for {
		w, err := o.word()
		if err != nil {
			return err
		}
		if w == nil {
			return o.b.Face(o.corners)
		}
		for i, c := range w {
			if c == '/' {
				w = w[:i]
				break
			}
		}
		v, ok := scan.Int(w)
		if !ok {
			return fail(file.ErrNumber, file.Export, "found %s where the number of a vertex belongs", found(w))
		}
		n := int64(len(o.b.Vertices))
		if v < 0 {
			v += n + 1 // -1 is the vertex read last
		}
		if v < 1 || v > n {
			return fail(file.ErrIndex, file.Export, "a face uses vertex %s, but %d come before it, counted from 1", w, n)
		}
		if len(o.corners) > polygon.MaxCorners {
			return o.b.Face(o.corners) // which says that it is too many
		}
		o.corners = append(o.corners, int32(v-1))
	}
}

func found(w []byte) string {
	if len(w) == 0 {
		return "nothing"
	}
	return file.Quote(w)
}

func fail(kind error, remedy, format string, args ...any) error {
	return &file.Error{Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: remedy, Err: kind}
}
