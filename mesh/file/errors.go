package file

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// What can be wrong with a file. Every *Error wraps one of these.
var (
	ErrEmpty       = errors.New("the file is empty")
	ErrFormat      = errors.New("the file is of another format")
	ErrUnsupported = errors.New("the file uses what is not supported")
	ErrNoFacets    = errors.New("the file holds no facets")
	ErrTruncated   = errors.New("the file is cut short")
	ErrSyntax      = errors.New("a word is out of place")
	ErrNumber      = errors.New("a number cannot be read")
	ErrVertexCount = errors.New("a facet has not three corners")
	ErrIndex       = errors.New("a number points at nothing")
	ErrNotFinite   = errors.New("a coordinate is not a finite number")
	ErrTooLarge    = errors.New("the file holds too much")
	ErrHostile     = errors.New("the file is made to do harm")
)

// Error says what is wrong with a file, where, and what to do about it. It
// does not name the file, which readers never learn: write it in front.
type Error struct {
	Within string // the file inside an archive; empty when there is none
	Line   int    // text: line, counted from 1; 0 when the place is an offset or the whole file
	Offset int64  // binary: byte, counted from 0; -1 when the place is a line or the whole file
	Facet  int    // facet, counted from 1; 0 when the trouble is in none
	Found  string // what was found, as a sentence without a full stop
	Remedy string // what to do
	Err    error  // one of the sentinels above
}

// Error returns one line: place, what was found, what to do.
func (e *Error) Error() string {
	var b strings.Builder
	if e.Within != "" {
		b.WriteString(Plain(e.Within) + ": ")
	}
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

// Empty is the error for a file of no bytes.
func Empty() *Error {
	return &Error{Offset: -1, Found: "the file is empty", Remedy: Copy, Err: ErrEmpty}
}

// Remedies that fit most errors.
const (
	Export = "export the part again"
	Copy   = "copy or export the file again"
)

// longest is how much of a word of a file is shown.
const longest = 32

// Quote returns a word of a file fit for a message: short, in quotes, and with
// every byte that is no printable character escaped.
func Quote(w []byte) string {
	if len(w) > longest {
		return fmt.Sprintf("%q and more", w[:longest])
	}
	return fmt.Sprintf("%q", w)
}

// Plain returns a name as it is when it is short and printable, otherwise as Quote shows it.
func Plain(name string) string {
	if q := strconv.Quote(name); len(name) <= 2*longest && q[1:len(q)-1] == name {
		return name
	}
	return Quote([]byte(name))
}
