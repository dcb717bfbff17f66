package recipe

import (
	"errors"
	"fmt"
	"strings"
)

// Sentinels of this package.
var (
	// ErrInvalid is in the chain of every error about what a recipe says.
	ErrInvalid = errors.New("recipe is not valid")
	// ErrUnknown is in the chain of the error for a name that is not built in.
	ErrUnknown = errors.New("no such recipe")
)

// Problem is one thing wrong with a recipe.
type Problem struct {
	Line    int    // 1 for the first; 0 when the file as a whole is meant
	Path    string // key, such as finish.target_ra_um
	Message string // what is wrong
	Remedy  string // what to do about it
}

// String returns one line: where, what, what helps.
func (p Problem) String() string {
	var b strings.Builder
	if p.Line > 0 {
		fmt.Fprintf(&b, "line %d: ", p.Line)
	}
	if p.Path != "" {
		b.WriteString(p.Path + ": ")
	}
	b.WriteString(p.Message)
	if p.Remedy != "" {
		b.WriteString("; " + p.Remedy)
	}
	return b.String()
}

// Error is a recipe that cannot be used.
type Error struct {
	File     string
	Problems []Problem // at least one, in file order
}

// Error returns one line a problem.
func (e *Error) Error() string {
	lines := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		lines[i] = e.File + ": " + p.String()
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns [ErrInvalid].
func (e *Error) Unwrap() error { return ErrInvalid }
