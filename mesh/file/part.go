package file

import (
	"math"

	"skinstock/mesh"
	"skinstock/mesh/finding"
)

// MaxFacets is the most facets a mesh can have: half-edges are numbered 3*f+k in an int32.
const MaxFacets = math.MaxInt32 / 3

// Formats, as they are named in reports.
const (
	STLBinary = "stl-binary"
	STLASCII  = "stl-ascii"
	ThreeMF   = "3mf"
	OBJ       = "obj"
	OFF       = "off"
	PLY       = "ply"
)

// Part is what a file holds, whatever its format.
type Part struct {
	Format string // one of the constants above

	// UnitMM is the length in mm of one unit of Soup's corners, 0 when the
	// format carries no unit. Where it is given it is the file's own word and
	// not to be overruled.
	UnitMM float64

	// Header is the free text of a binary STL file. It need not be UTF-8.
	Header string

	// Metadata are a 3MF file's, in file order.
	Metadata []Metadata

	// Soup holds the facets in file order, in file units, with every body of
	// the file as a named run.
	Soup mesh.Soup

	// Findings are what was accepted although the file is not as it should be, and what was left out.
	Findings []finding.Finding
}

// Metadata is a name and a value that a file carries along.
type Metadata struct{ Name, Value string }

// Note adds a finding that stands for count places.
func (p *Part) Note(severity finding.Severity, code string, count int, message string) {
	p.Findings = append(p.Findings, finding.Finding{Code: code, Severity: severity, Message: message, Count: count})
}
