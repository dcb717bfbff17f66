package recipe

import (
	"fmt"
	"math"
	"regexp"
	"strconv"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Source tells where a number comes from.
type Source string

// Sources.
const (
	Measured  Source = "measured"  // on the user's own machine and bath
	Published Source = "published" // in a publication that By names
	Assumed   Source = "assumed"   // nobody vouches for it
)

// DefaultNote marks an assumed number that the file left out.
const DefaultNote = "default of the program"

// Quantity is one number of a recipe and where it comes from. The zero
// Quantity is one that was not given.
type Quantity struct {
	Value       float64 `json:"value" jsonschema:"the number, in the unit of the key's name"`
	Source      Source  `json:"source,omitempty" enum:"measured published assumed" jsonschema:"where the number comes from; assumed when left out"`
	By          string  `json:"by,omitempty" jsonschema:"who measured it, or the publication"`
	Uncertainty float64 `json:"uncertainty,omitempty" jsonschema:"half-width of the 95 % band, in the unit of the value"`
	Note        string  `json:"note,omitempty" jsonschema:"anything worth knowing"`
}

// Given tells whether the quantity has a value.
func (q Quantity) Given() bool { return q.Source != "" }

// Or returns the value, or v when the quantity is not given.
func (q Quantity) Or(v float64) float64 {
	if q.Given() {
		return q.Value
	}
	return v
}

// AssumedValue returns an assumed quantity.
func AssumedValue(v float64) Quantity { return Quantity{Value: v, Source: Assumed} }

// MeasuredValue returns a measured quantity with the half-width of its 95 % band.
func MeasuredValue(v, uncertainty float64, by string) Quantity {
	return Quantity{Value: v, Source: Measured, Uncertainty: uncertainty, By: by}
}

// UnmarshalYAML reads the bare or the long form. The document has been checked
// against the types before, so that what fails here has no form at all.
func (q *Quantity) UnmarshalYAML(n ast.Node) error {
	if v, ok := number(n); ok {
		*q = Quantity{Value: v, Source: Assumed}
		return nil
	}
	if n.Type() == ast.NullType {
		return nil
	}
	var p struct {
		Value, Uncertainty plainNumber
		Source             Source
		By, Note           string
	}
	if err := yaml.NodeToValue(n, &p, yaml.Strict()); err != nil {
		return fmt.Errorf("reading a quantity: %w", err)
	}
	if p.Source == "" {
		p.Source = Assumed
	}
	*q = Quantity{Value: float64(p.Value), Source: p.Source, By: p.By, Uncertainty: float64(p.Uncertainty), Note: p.Note}
	return nil
}

// plainNumber is a number that may be written with an exponent.
type plainNumber float64

// UnmarshalYAML reads the number.
func (v *plainNumber) UnmarshalYAML(n ast.Node) error {
	f, ok := number(n)
	if !ok {
		return fmt.Errorf("%s is not a number", say(n))
	}
	*v = plainNumber(f)
	return nil
}

// MarshalYAML writes a bare number where nothing else is known, and else the long form on one line.
func (q Quantity) MarshalYAML() ([]byte, error) {
	v := formatFloat(q.Value)
	if q == (Quantity{Value: q.Value, Source: Assumed}) {
		return []byte(v), nil
	}
	s := "{value: " + v + ", source: " + string(q.Source)
	if q.By != "" {
		s += ", by: " + strconv.Quote(q.By)
	}
	if q.Uncertainty != 0 {
		s += ", uncertainty: " + formatFloat(q.Uncertainty)
	}
	if q.Note != "" {
		s += ", note: " + strconv.Quote(q.Note)
	}
	return []byte(s + "}"), nil
}

// formatFloat writes the shortest decimal that reads back as v.
func formatFloat(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// number returns the value of a number node.
func number(n ast.Node) (float64, bool) {
	switch n := n.(type) {
	case *ast.IntegerNode:
		switch v := n.Value.(type) {
		case int64:
			return float64(v), true
		case uint64:
			return float64(v), true
		case int:
			return float64(v), true
		}
	case *ast.FloatNode:
		return n.Value, true
	case *ast.InfinityNode:
		return n.Value, true
	case *ast.NanNode:
		return math.NaN(), true
	case *ast.StringNode: // the YAML library takes 3e9 for text, the YAML standard for a number
		if n.Token.Type == token.StringType && exponentForm.MatchString(n.Value) {
			v, err := strconv.ParseFloat(n.Value, 64)
			return v, err == nil
		}
	}
	return 0, false
}

var exponentForm = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]*)?[eE][-+]?[0-9]{1,3}$`)
