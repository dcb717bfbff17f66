package offset

import (
	"fmt"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/part"
	"skinstock/offset/grow"
	"skinstock/offset/limit"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/offset/verify"
	"skinstock/region"
	"skinstock/region/orient"
)

// Job is what is asked for.
type Job struct {
	Recipe   *recipe.Recipe
	BuildDir r3.Vector // from the first layer to the last; any length

	// Best says that the build direction is to be chosen by Orient, instead.
	Best bool
	// EnvelopeMM is the build space: length, width, height; zero takes the recipe's, if it has one.
	EnvelopeMM [3]float64
	Directions int // how many to try, spread evenly; 0 for 2,500

	// FixedUM gives allowances in um by skin in place of the computed ones.
	FixedUM map[region.Skin]float64

	// Roughness stands in place of the recipe's model of the as-built surface; nil takes the recipe's.
	Roughness removal.Roughness

	// Zones are the functional faces to keep; an earlier zone takes a facet before a later one.
	Zones []region.Zone

	// ChordUM is how far in um the allowance may be off from that called for because
	// facets are large, before they are cut, and a rebuilt surface from where it
	// should be; 0 takes DefaultChordUM, less than 0 leaves every facet whole.
	ChordUM float64

	// Remesh has the grown surface rebuilt from the distance to the part, instead of
	// its facets moved. It is done in any case where moving them fails.
	Remesh bool

	Field    FieldModel // how the bath's current distribution is found
	NoVerify bool       // leave the proof out
	// Unchecked leaves out everything that looks for trouble: crossings of the
	// part and of the grown surface, the room between walls, sizes and the proof.
	Unchecked bool
	Samples   int // of the proof, spread by area beside one on every facet and vertex; 0 takes its default
	Workers   int // goroutines, 0 for one a processor; the result does not depend on it

	// KeepTree leaves the tree of the part for Planned.TakeTree.
	KeepTree bool

	// Lean lets the run drop on its way what only pictures and charts of its result ask
	// for: how facets are inclined and, of an unchecked run, who is whose neighbour in the part.
	Lean bool

	// Progress is told the stage and how far the whole is, 0 to 1; it may be nil.
	Progress func(stage string, share float64)
}

// Planned is a part with its skins and the plan of its bath; no geometry was made yet.
type Planned struct {
	Part     *part.Part
	Nominal  *mesh.Mesh // the part's mesh, or the boundary of its union when its bodies overlapped
	Topo     *mesh.Topology
	BuildDir r3.Vector // unit length
	Sorting  *region.Sorting
	Plan     *removal.Plan

	Chosen *orient.Ranking // how BuildDir was chosen; nil when it was given

	Kept *region.Kept // the keep zones on Nominal; nil without any

	Exposed *Exposed // the bath's field; nil when every place is exposed alike

	Closed *Closed // the loop on the field; nil unless a full field run grew the part

	Refined *Refined // how facets were cut for the allowance; nil unless the part was grown or judged

	// FacetMM is the allowance of every facet of Nominal, mm, before the slope rule.
	FacetMM []float64

	Findings []finding.Finding

	tree   *bvh.Tree // of Nominal, while it is needed: see nominalTree
	masked []bool    // by facet of Nominal; nil without keep zones

	clear *limit.Clear // facets of Nominal with nothing opposite, once they were looked for
	known *known       // the allowance on a mesh for which it was worked out; growing takes it over
}

// Result is a planned part and the grown mesh.
type Result struct {
	*Planned

	// Grown is the mesh to print, on coordinates that a binary STL file holds exactly.
	Grown *mesh.Mesh
	// NominalOf maps the facets of Grown to those of Nominal that they are, or
	// are pieces of; nil when facet i is facet i.
	NominalOf []int32
	Allowance mesh.CornerField // on Nominal, mm, after the slope rule
	Crossings int              // pairs of facets of Grown that cross; always 0 for a part grown and checked here
	Unchecked bool             // nobody looked for crossings, room and stock: see Job
	Rebuilt   int              // facets of Grown that are pieces of cut ones
	GrownMM3  float64          // volume of Grown
	AddedG    float64          // mass of the stock

	Rebuilding *Rebuilding // how the surface was made anew; nil when facets were moved

	Proof *verify.Proof // nil when left out

	Standing *Standing // predicted finish of a part grown elsewhere; nil for one grown here, and without a field

	KeptChecks []KeptCheck // one a keep zone; nil without any
	Sizes      []SizeCheck // bores and pairs of parallel planes, those of more area first

	tree *bvh.Tree // of Grown, while it is needed

	// traced maps the facets of a Grown that came from elsewhere to the kept
	// facets of Nominal that they are, negative for none; nil for one grown here.
	traced []int32

	shape  *grow.Surface // split vertices and the facets they brought; nil for none
	bevel  *mesh.Mesh    // its facets, with what the file says about them
	split  int           // how many facets they brought
	capped bool          // stock was taken back where bodies would have met
	cut    bool          // facets of Grown were cut: its vertices are no longer the moved ones

	// number tells, ascending, which facet of the moved surface each facet of Grown
	// is, is a piece of or lies behind; nil when facet i is facet i.
	number []int32
	// untested marks the facets of a Grown that was cut of which a test must show
	// that they meet no others; nil for all.
	untested []bool

	metal int        // bodies of metal in Nominal, 0 before they are counted
	found foundSizes // once they were looked for

	// settled are the findings about the present Grown; they join Findings at the end.
	settled []finding.Finding
}

// CrossingError says that the grown surface crosses itself where no clean
// surface could be made of it. Nothing fit to print exists then.
type CrossingError struct {
	At  r3.Vector // mm, one of the places
	Err error
}

// Error tells the place and what helps.
func (e *CrossingError) Error() string {
	return fmt.Sprintf("the grown surface crosses itself at (%.4g, %.4g, %.4g) mm and could not be made clean: %v; use a smaller allowance, or mend the part there",
		e.At.X, e.At.Y, e.At.Z, e.Err)
}

// Unwrap returns the cause.
func (e *CrossingError) Unwrap() error { return e.Err }
