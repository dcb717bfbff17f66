package mesh

import (
	"fmt"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
)

// MendKind is a kind of mend.
type MendKind uint8

// Kinds of mends, in the order in which they are tried.
const (
	MendFolded     MendKind = iota // facets with two equal corners, left out
	MendShortEdge                  // edges shorter than a coordinate's rounding, closed up
	MendDuplicate                  // facets present more than once, all but one left out
	MendInnerWall                  // facets with metal on both sides, left out
	MendCrack                      // vertices of open edges joined within the tolerance
	MendTJunction                  // vertices of open edges put into the edge they lie on
	MendFlap                       // sheets of no thickness, left out
	MendFlat                       // facets of no area whose corners lie in a row, edge flipped
	MendWinding                    // facets wound against their neighbours, turned
	MendInverted                   // shells inside out, turned
	MendTouchEdge                  // edges along which bodies touch, doubled
	MendTouchPoint                 // vertices at which bodies touch, doubled
)

var mendNames = [...]string{
	"folded_facets", "short_edges", "duplicate_facets", "inner_walls", "cracks", "t_junctions", "flaps",
	"flat_facets", "winding", "inverted_shells", "touching_edges", "touching_points",
}

var mendTexts = [...]string{
	"facets with two equal corners left out", "ends of edges joined that are shorter than a coordinate is rounded",
	"duplicate facets left out", "facets of walls inside the metal left out",
	"vertices joined across cracks", "vertices put into the edges they lie on", "facets of sheets without thickness left out",
	"facets without area flipped away", "facets turned to agree with their neighbours", "shells turned outside out",
	"edges doubled along which bodies touch", "vertices doubled at which bodies touch",
}

// String returns the name used in reports.
func (k MendKind) String() string { return mendNames[k] }

// MarshalText writes the name.
func (k MendKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Mend tells how often one kind of mend was made, and where first.
type Mend struct {
	Kind  MendKind
	Count int
	At    r3.Vector // mm, place of the first in facet order
	// MoveMM is the farthest that any point of the surface was moved by it, mm.
	MoveMM float64
}

// Repairs tells what Build mended.
type Repairs struct {
	Mends []Mend // one a kind, in order of MendKind; empty when nothing was mended

	// Trouble of the surface after exact welding, before any mend.
	OpenEdges, NonManifoldEdges, WrongWayEdges int

	// WeldTolMM is the largest gap that welding was allowed to close, mm; 0 when exact welding sufficed.
	WeldTolMM float64

	// Touching lists, ascending, the vertices of the mesh that share their
	// place with another vertex because bodies touch there.
	Touching []int32

	// Nested counts the shells that lie in the metal of another shell and are
	// wound outwards too: metal in metal, which stays as it is. NestedAt is
	// the place of the first.
	Nested   int
	NestedAt r3.Vector
}

// Of returns the count of one kind of mend.
func (r *Repairs) Of(k MendKind) int {
	for _, m := range r.Mends {
		if m.Kind == k {
			return m.Count
		}
	}
	return 0
}

// Total returns the count of all mends.
func (r *Repairs) Total() int {
	n := 0
	for _, m := range r.Mends {
		n += m.Count
	}
	return n
}

// note counts n mends of a kind; the place of the first call stays.
func (r *Repairs) note(k MendKind, n int, at r3.Vector, moveMM float64) {
	if n == 0 {
		return
	}
	i := 0
	for i < len(r.Mends) && r.Mends[i].Kind < k {
		i++
	}
	if i == len(r.Mends) || r.Mends[i].Kind != k {
		r.Mends = append(r.Mends, Mend{})
		copy(r.Mends[i+1:], r.Mends[i:])
		r.Mends[i] = Mend{Kind: k, At: at}
	}
	r.Mends[i].Count += n
	r.Mends[i].MoveMM = max(r.Mends[i].MoveMM, moveMM)
}

// Findings returns the mends as findings with the code mended, a warning where
// the shape may not be what its author meant, else worth knowing only.
func (r *Repairs) Findings() []finding.Finding {
	var out []finding.Finding
	for _, m := range r.Mends {
		f := finding.Finding{
			Code: "mended", Severity: finding.Info, At: &m.At, Count: m.Count, SizeMM: m.MoveMM,
			Message: fmt.Sprintf("%d %s", m.Count, mendTexts[m.Kind]),
		}
		if m.MoveMM > 0 {
			f.Message += fmt.Sprintf(", moving the surface by up to %.3g um", 1000*m.MoveMM)
		}
		switch m.Kind {
		case MendInnerWall, MendFlap, MendInverted, MendTouchEdge, MendTouchPoint:
			f.Severity = finding.Warning
			f.Remedy = "look at this place in the CAD model"
		}
		out = append(out, f)
	}
	if r.Nested > 0 {
		out = append(out, finding.Finding{
			Code: "nested_shell", Severity: finding.Warning, At: &r.NestedAt, Count: r.Nested,
			Message: fmt.Sprintf("%d shells lie in the metal of another and are wound outwards: taken as metal, not as cavities", r.Nested),
			Remedy:  "turn the shell inside out in the CAD model if it is meant as a cavity",
		})
	}
	return out
}
