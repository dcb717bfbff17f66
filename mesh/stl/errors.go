package stl

import (
	"errors"
	"fmt"
	"strings"
)

// What can be wrong with a file. Every *Error wraps one of these.
var (
	ErrEmpty       = errors.New("the file is empty")
	ErrNotSTL      = errors.New("this is no STL file")
	ErrNoFacets    = errors.New("the file holds no facets")
	ErrTruncated   = errors.New("the file is cut short")
	ErrSyntax      = errors.New("a word is out of place")
	ErrNumber      = errors.New("a number cannot be read")
	ErrVertexCount = errors.New("a facet has not three corners")
	ErrNotFinite   = errors.New("a coordinate is not a finite number")
	ErrTooLarge    = errors.New("too many facets")
)

// Error says what is wrong with a file, where, and what to do about it. It
// does not name the file, which the package never learns: write it in front.
type Error struct {
	Line   int    // ASCII: line, counted from 1; 0 when the place is an offset or the whole file
	Offset int64  // binary: byte, counted from 0; -1 when the place is a line or the whole file
	Facet  int    // facet, counted from 1; 0 when the trouble is in none
	Found  string // what was found, as a sentence without a full stop
	Remedy string // what to do
	Err    error  // one of the sentinels above
}

// Error returns one line: place, what was found, what to do.
func (e *Error) Error() string {
	var b strings.Builder
	switch {
	case e.Line > 0:
		fmt.Fprintf(&b, "line %d: ", e.Line)
	case e.Offset >= 0:
		fmt.Fprintf(&b, "byte %d: ", e.Offset)
	}
	if e.Facet > 0 {
		fmt.Fprintf(&b, "facet %d: ", e.Facet)
	}
	b.WriteString(e.Found)
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Unwrap returns the sentinel.
func (e *Error) Unwrap() error { return e.Err }

const (
	remedyExport = "export the part as STL again"
	remedyCopy   = "copy or export the file again"
)

// quote returns a word of a file fit for a message: short, and with every
// byte that is no printable character escaped.
func quote(w []byte) string {
	const most = 32
	if len(w) > most {
		return fmt.Sprintf("%q and more", w[:most])
	}
	return fmt.Sprintf("%q", w)
}
