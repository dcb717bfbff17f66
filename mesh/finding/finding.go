// Package finding holds what the program has to say about a part: one value a
// finding, with a code, a severity, a place and a size. Text, JSON and
// pictures are views of it.
package finding

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/golang/geo/r3"
)

// Severity orders findings by what they ask of the reader.
type Severity int

// Severities, least first.
const (
	Info    Severity = iota // worth knowing
	Warning                 // look at it before printing
	Error                   // the part will not come out as called for
)

var severityNames = [...]string{"info", "warning", "error"}

// String returns the name used in JSON and on the command line.
func (s Severity) String() string { return severityNames[s] }

// MarshalText writes the name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Finding is one observation.
type Finding struct {
	Code     string // snake_case, stable: see the findings reference in the README
	Severity Severity
	Message  string     // one sentence without a full stop, with units
	Remedy   string     // what to do about it; may be empty
	At       *r3.Vector // mm, nil when the finding has no place
	SizeMM   float64    // what the message calls its size; 0 when it has none
	Count    int        // how many places the finding stands for, at least 1
}

// Sorted returns the findings worst first, then by code; equals keep their order.
func Sorted(fs []Finding) []Finding {
	out := slices.Clone(fs)
	slices.SortStableFunc(out, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(a.Code, b.Code))
	})
	return out
}

// ParseSeverity is the inverse of Severity.String.
func ParseSeverity(name string) (Severity, error) {
	if i := slices.Index(severityNames[:], name); i >= 0 {
		return Severity(i), nil
	}
	return 0, fmt.Errorf("%q is no severity: use info, warning or error", name)
}

// UnmarshalText is the inverse of MarshalText.
func (s *Severity) UnmarshalText(text []byte) (err error) {
	*s, err = ParseSeverity(string(text))
	return err
}
