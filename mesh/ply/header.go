package ply

import (
	"bytes"
	"errors"
	"fmt"

	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// kind is a scalar type of the format.
type kind uint8

const (
	none kind = iota
	int8s
	uint8s
	int16s
	uint16s
	int32s
	uint32s
	float32s
	float64s
)

var (
	kindSize  = [...]int{0, 1, 1, 2, 2, 4, 4, 4, 8}
	kindNames = map[string]kind{
		"char": int8s, "int8": int8s, "uchar": uint8s, "uint8": uint8s,
		"short": int16s, "int16": int16s, "ushort": uint16s, "uint16": uint16s,
		"int": int32s, "int32": int32s, "uint": uint32s, "uint32": uint32s,
		"float": float32s, "float32": float32s, "double": float64s, "float64": float64s,
	}
)

// property is a scalar, or a list when count is set.
type property struct {
	name  string
	count kind // type of a list's length
	value kind
}

type element struct {
	name       string
	records    int64 // as announced: a claim
	properties []property
}

// Limits of the header; honest files have a handful of each.
const (
	maxElements   = 64
	maxProperties = 256
)

// form is the encoding of the records.
type form int

const (
	text form = iota
	littleEndian
	bigEndian
)

type header struct {
	form     form
	elements []element
}

// readHeader reads up to and including the line "end_header".
func readHeader(s *scan.Scanner) (*header, error) {
	if w, err := word(s); err != nil {
		return nil, err
	} else if string(w) != "ply" {
		return nil, fail(file.ErrFormat, file.Export, "the file begins with %s, a PLY file with \"ply\"", file.Quote(w))
	}
	crOnly := false
	if next := s.Peek(2); len(next) == 2 && next[0] == '\r' && next[1] != '\n' {
		crOnly = true
	}
	h := &header{form: -1}
	for {
		if !s.NextLine() {
			if s.Err() != nil {
				return nil, s.Err()
			}
			return nil, fail(file.ErrTruncated, file.Copy, "the file ends in its header")
		}
		w, err := word(s)
		if err != nil {
			return nil, err
		}
		switch string(w) {
		case "", "comment", "obj_info":
		case "format":
			err = h.format(s)
		case "element":
			err = h.element(s)
		case "property":
			err = h.property(s)
		case "end_header":
			if h.form < 0 {
				return nil, fail(file.ErrSyntax, file.Export, "the header has no \"format\" line")
			}
			return h, endHeader(s, crOnly)
		default:
			err = fail(file.ErrSyntax, file.Export, "found %s, which begins no line of a PLY header", file.Quote(w))
		}
		if err != nil {
			return nil, err
		}
	}
}

// endHeader passes the end of the header's last line. A CR there is followed
// by a LF that belongs to it only where all lines end so.
func endHeader(s *scan.Scanner, crOnly bool) error {
	if crOnly {
		s.Skip(len(s.Peek(1)))
		return nil
	}
	if rest := bytes.TrimSpace(s.RestOfLine(nil)); len(rest) > 0 {
		return fail(file.ErrSyntax, file.Export, "found %s behind \"end_header\"", file.Quote(rest))
	}
	s.NextLine()
	return nil
}

func (h *header) format(s *scan.Scanner) error {
	w, err := word(s)
	if err != nil {
		return err
	}
	switch string(w) {
	case "ascii":
		h.form = text
	case "binary_little_endian":
		h.form = littleEndian
	case "binary_big_endian":
		h.form = bigEndian
	default:
		return fail(file.ErrUnsupported, file.Export, "the format is %s", file.Quote(w))
	}
	if w, err = word(s); err != nil {
		return err
	}
	if string(w) != "1.0" {
		return fail(file.ErrUnsupported, file.Export, "the format has version %s, only 1.0 is known", file.Quote(w))
	}
	return nil
}

func (h *header) element(s *scan.Scanner) error {
	w, err := word(s)
	if err != nil {
		return err
	}
	e := element{name: string(w)}
	if w, err = word(s); err != nil {
		return err
	}
	n, ok := scan.Int(w)
	if !ok || n < 0 {
		return fail(file.ErrNumber, file.Export, "found %s where the number of %s elements belongs", file.Quote(w), file.Quote([]byte(e.name)))
	}
	e.records = n
	for _, other := range h.elements {
		if other.name == e.name {
			return fail(file.ErrSyntax, file.Export, "the element %s is declared twice", file.Quote([]byte(e.name)))
		}
	}
	if len(h.elements) == maxElements {
		return fail(file.ErrTooLarge, file.Export, "the header declares more than %d elements", maxElements)
	}
	h.elements = append(h.elements, e)
	return nil
}

func (h *header) property(s *scan.Scanner) error {
	if len(h.elements) == 0 {
		return fail(file.ErrSyntax, file.Export, "a property is declared before any element")
	}
	e := &h.elements[len(h.elements)-1]
	if len(e.properties) == maxProperties {
		return fail(file.ErrTooLarge, file.Export, "an element has more than %d properties", maxProperties)
	}
	var p property
	w, err := word(s)
	if err == nil && string(w) == "list" {
		if p.count, err = scalarKind(s); err == nil && p.count >= float32s {
			err = fail(file.ErrSyntax, file.Export, "the length of a list is no whole number")
		}
		if err != nil {
			return err
		}
		p.value, err = scalarKind(s)
	} else if err == nil {
		p.value, err = kindOf(w)
	}
	if err != nil {
		return err
	}
	if w, err = word(s); err != nil {
		return err
	}
	p.name = string(w)
	e.properties = append(e.properties, p)
	return nil
}

func scalarKind(s *scan.Scanner) (kind, error) {
	w, err := word(s)
	if err != nil {
		return none, err
	}
	return kindOf(w)
}

func kindOf(w []byte) (kind, error) {
	k := kindNames[string(w)]
	if k == none {
		return k, fail(file.ErrSyntax, file.Export, "found %s where a scalar type belongs", file.Quote(w))
	}
	return k, nil
}

// word returns the next word of the line, empty at its end.
func word(s *scan.Scanner) ([]byte, error) {
	w, err := s.WordInLine()
	if errors.Is(err, scan.ErrLongWord) {
		err = fail(file.ErrSyntax, file.Export, "found %v", err)
	}
	return w, err
}

func fail(kind error, remedy, format string, args ...any) error {
	return &file.Error{Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: remedy, Err: kind}
}
