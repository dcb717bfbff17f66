package stl

import (
	"bytes"
	"fmt"
	"io"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/finding"
	"skinstock/mesh/internal/scan"
)

// Format is the form of an STL file.
type Format int

// The two forms.
const (
	Binary Format = iota
	ASCII
)

// String returns "binary" or "ascii".
func (f Format) String() string {
	if f == ASCII {
		return "ascii"
	}
	return "binary"
}

// MaxFacets is the most facets a mesh can have: half-edges are numbered 3*f+k in an int32.
const MaxFacets = file.MaxFacets

// Options says how to read.
type Options struct {
	// MaxFacets refuses files with more facets; 0 means the package's MaxFacets.
	MaxFacets int

	// Welder takes the facets as soon as they are read, but for the last ones,
	// which are left in the soup. Nil for none: then the soup has them all.
	Welder *mesh.Welder
}

// File is what an STL file holds.
type File struct {
	Format Format

	// Header is the free text of a binary file, byte by byte, colour
	// definitions included; zero for an ASCII file.
	Header [80]byte

	// Soup holds the facets in file order and file units. Solids are those of
	// an ASCII file, empty ones included, with names as the bytes that were
	// written, which need not be UTF-8; nil for one nameless solid.
	Soup mesh.Soup

	// Warnings are what was accepted although the file is not as it should be.
	Warnings []finding.Finding
}

// Part returns the file in the form that all formats share.
func (f *File) Part() *file.Part {
	p := &file.Part{Format: file.STLBinary, Header: f.HeaderText(), Soup: f.Soup, Findings: f.Warnings}
	if f.Format == ASCII {
		p.Format = file.STLASCII
	}
	return p
}

// HeaderText returns the header without the padding behind it. It need not be UTF-8.
func (f *File) HeaderText() string { return string(bytes.TrimRight(f.Header[:], "\x00 ")) }

// Codes of the warnings.
const (
	CodeCount    = "header_count_wrong"  // the header's facet count is not what the file holds
	CodeTrailing = "trailing_bytes"      // bytes behind the last facet
	CodeNormal   = "normal_not_a_number" // stored normals that are no numbers
	CodeReversed = "normal_reversed"     // stored normals against the corners' order
	CodeEmpty    = "empty_solid"         // solids without facets
	CodeNameless = "solid_line_missing"  // facets without a solid around them
)

// binary layout: header, count, then one record a facet: normal, corners, attribute word
const (
	headerSize = 84
	recordSize = 50
)

// Read reads an STL file. The size in bytes is -1 when it is not known, as on
// a pipe; when it is given it must be the true one, since memory is asked for
// by it. Every error on account of the file's content is an *Error.
func Read(r io.Reader, size int64, opt Options) (*File, error) {
	if opt.MaxFacets <= 0 || opt.MaxFacets > MaxFacets {
		opt.MaxFacets = MaxFacets
	}
	s := scan.New(r, size)
	head := s.Peek(2 * scan.MaxWord)
	if err := s.Err(); err != nil {
		return nil, readError(s)
	}
	if len(head) == 0 {
		return nil, file.Empty()
	}
	if !sizeFits(head, size) {
		switch judge(head, len(head) < 2*scan.MaxWord) {
		case textSTL, textOther:
			return readASCII(s, size, opt)
		case textWide:
			return nil, &Error{Line: 1, Offset: -1, Found: "the text is UTF-16", Remedy: "save it as UTF-8 or export binary STL", Err: ErrNotSTL}
		}
	}
	return readBinary(s, size, opt)
}

func readError(s *scan.Scanner) error {
	return fmt.Errorf("byte %d: reading failed: %w", s.Offset()+int64(len(s.Window())), s.Err())
}
