package arrange

import (
	"errors"
	"fmt"
	"runtime"

	"github.com/golang/geo/r3"
)

// Options steer Resolve; the zero value is useful.
type Options struct {
	Workers int // goroutines; less than 1 takes GOMAXPROCS. The result does not depend on it

	// MergeMM is the length in mm below which edges left by a cut are
	// collapsed and the height below which pieces are flipped away. 0 means 0.3 um.
	MergeMM float64

	// NudgeMM is how far in mm a vertex in an exact contact is moved outwards
	// at a time. 0 means 0.05 um; never less than four steps of single
	// precision at the part's size.
	NudgeMM float64

	// Voids enclosed by the metal that no cavity of the input accounts for, as
	// folds leave them, are filled when they are no larger than both limits:
	// DropVoidsMM3 in mm3, and DropVoidsMM in depth, taken as three times
	// volume over area (the radius of a ball). 0 fills none.
	DropVoidsMM3 float64
	DropVoidsMM  float64

	// DropCrumbsMM is the depth, measured likewise, of loose bits of metal
	// split off by crossings that are left out. 0 means 1 um; negative keeps all.
	DropCrumbsMM float64

	// Suspects are facets that hold one of every pair that meets, as an exact
	// test of all pairs has found, such as bvh.SelfCrossings: no other pair is
	// tested but those of facets that a cut changes. nil tests all.
	Suspects []int32

	// MaxRounds bounds the rounds of cutting and rounding. 0 means 12.
	MaxRounds int

	// MaxPoints bounds the points common to three facets over all rounds, and with
	// them time and memory. 0 means two million and eight for each facet.
	MaxPoints int
}

func (o Options) withDefaults(largest float64, facets int) Options {
	if o.Workers < 1 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.MergeMM == 0 {
		o.MergeMM = 0.0003
	}
	if o.NudgeMM == 0 {
		o.NudgeMM = 0.00005
	}
	o.NudgeMM = max(o.NudgeMM, 4*largest*0x1p-23)
	o.MergeMM = max(o.MergeMM, 4*o.NudgeMM)
	if o.DropCrumbsMM == 0 {
		o.DropCrumbsMM = 0.001
	}
	if o.MaxRounds == 0 {
		o.MaxRounds = 12
	}
	if o.MaxPoints == 0 {
		o.MaxPoints = leastPoints + facetPoints*facets
	}
	return o
}

// Report tells what Resolve found and did.
type Report struct {
	Crossings  int // pairs of facets of the input that cross
	Touches    int // pairs that touch: one plane, corner on face, edge on edge, or a facet without area
	Places     []r3.Vector
	Duplicates int // shells dropped because they repeat another facet for facet
	Rounds     int // rounds of cutting; 0 when the input was clean

	CutFacets     int // facets of the input of which pieces or nothing are left
	FacetsRemoved int // facets of the input of which nothing is left
	FacetsAdded   int // pieces in the output
	VerticesAdded int
	VerticesMoved int     // vertices of the input that are in the output elsewhere
	MaxMoveMM     float64 // how far at most

	ShellsIn, ShellsOut int
	Voids               []Speck // hollows enclosed by crossing facets
	Crumbs              []Speck // loose bits of metal split off by crossings, less than 0.1 mm deep

	Facet  []int32 // per facet of the output: the facet of the input it is, or is a piece of
	Vertex []int32 // per vertex of the output: the vertex of the input, or -1 for a cut point
}

// Speck is a small shell that crossing facets made.
type Speck struct {
	At        r3.Vector // a point of its surface, mm
	VolumeMM3 float64   // never negative
	DepthMM   float64   // 3 volume / area: the radius of a ball, 1.5 times the thickness of a sheet
	Dropped   bool
}

// ErrNothingLeft says that no region has a positive winding number, as for a
// part turned inside out.
var ErrNothingLeft = errors.New("nothing is left of the part: its surface is turned inside out")

// UnresolvedError says that rounding kept making facets meet, or that they run
// through each other in more places than Options.MaxPoints.
type UnresolvedError struct {
	Rounds  int
	Pairs   int
	Tangled bool        // MaxPoints ended it
	At      []r3.Vector // a place a pair, at most 100, mm
}

func (e *UnresolvedError) Error() string {
	if e.Tangled {
		return fmt.Sprintf("%d pairs of facets meet after %d rounds, in more places than can be resolved, first near (%.4f, %.4f, %.4f) mm",
			e.Pairs, e.Rounds, e.At[0].X, e.At[0].Y, e.At[0].Z)
	}
	return fmt.Sprintf("%d pairs of facets still meet after %d rounds, first near (%.4f, %.4f, %.4f) mm; a coarser merge length may help",
		e.Pairs, e.Rounds, e.At[0].X, e.At[0].Y, e.At[0].Z)
}
