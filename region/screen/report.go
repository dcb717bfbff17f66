package screen

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
)

// Report is what screening found.
type Report struct {
	Bores      []Bore
	Slots      []Slot
	Passages   []Passage
	Cavities   []Cavity
	Strays     []Stray
	SharpEdges Edges
	Corners    Edges // inside corners: concave edges
	Wall       Least // solid thickness as designed
	Gap        Least // distance between facing walls as designed
	Pockets    []Pocket
	Hanging    Hanging
	Clamps     []Clamp // best first

	// UnreachedMM2 is the wall area of bores, slots and passages beyond the recipe's
	// limit of reach, out of AreaMM2 of the part's skin.
	UnreachedMM2, AreaMM2 float64

	Findings []finding.Finding // worst first
	Verdict  Verdict
	Reasons  []Reason // what decided the verdict, weightiest first
}

// EndKind tells what a bore's end meets.
type EndKind uint8

// Kinds of ends.
const (
	Open    EndKind = iota // the bath
	Blind                  // a floor
	Narrows                // a step into a narrower passage
	Widens                 // a step or mouth into a wider passage or hollow
)

var endNames = [...]string{"open", "blind", "narrows", "widens"}

// String returns the kind's name.
func (k EndKind) String() string { return endNames[k] }

// End is one end of a bore, on its axis.
type End struct {
	At   r3.Vector
	Kind EndKind

	// Diameters counts how deep this end lies below the bath along the way
	// through other bores: the sum of length over local width. 0 at an open
	// end, +Inf when no way is known.
	Diameters float64
}

// Bore is a round hole or channel, straight or curved.
type Bore struct {
	At   r3.Vector // middle of the axis
	Axis r3.Vector // unit; the chord direction where the channel is curved

	DiameterMM                   float64 // mean
	MinDiameterMM, MaxDiameterMM float64
	DepthMM                      float64 // length of the centre line
	Curved                       bool    // the axis turns by more than 10 degrees
	Threaded                     bool    // the wall waves as a thread does
	Ends                         [2]End
	OpenEnds                     int // ends that lead to the bath, straight or through other bores

	Reach Reach

	line  []station
	walls float64 // mean share of the circle that has a wall
	rms   float64 // mean deviation from the circle, share of the radius
}

// Reach is how far the bath gets into a hole, by two models.
type Reach struct {
	// LimitMM is the length treated by the recipe's limit of reach (depth in
	// diameters or widths from each open end), MarginalMM that up to the limit
	// beyond which nothing useful is done.
	LimitMM, MarginalMM float64

	// FieldMM is the length in which the current is at least the share
	// Limits.ShieldedFail, by the decay of the leading mode from the mouth;
	// Model says which field. PrimaryMM is the same without polarisation, the
	// pessimistic bound.
	FieldMM, PrimaryMM float64
	Model              string

	UnreachedMM  float64 // length beyond LimitMM
	UnreachedMM2 float64 // its wall area
	TooNarrow    bool    // below Limits.MinBoreMM: counts as not reached at all
}

// Cavity is a closed hollow: never treated, powder inside.
type Cavity struct {
	At        r3.Vector // a place on its wall
	VolumeMM3 float64   // without the loose bodies inside
	AreaMM2   float64
	Loose     int // bodies inside that touch nothing
}

// StrayKind tells shells apart that are no cavities.
type StrayKind uint8

// Kinds of strays.
const (
	Sheet  StrayKind = iota // a closed shell of no volume
	Nested                  // a body inside the metal of another
)

// Stray is a shell that is neither a part's skin nor a cavity.
type Stray struct {
	Kind StrayKind
	At   r3.Vector
	MM3  float64
}

// Edges are sharp edges of one sense.
type Edges struct {
	LengthMM    float64
	Count       int     // chains between corners
	SharpestDeg float64 // smallest angle of the metal at convex, of the void at concave edges; 180 when there is none
	At          r3.Vector
	Classes     []EdgeClass // sharpest first, none empty
}

// EdgeClass are the edges of one range of angles.
type EdgeClass struct {
	FromDeg, ToDeg float64 // angle of the metal (convex) or of the void (concave)
	LengthMM       float64
	Count          int
	RadiusMM       [2]float64 // expected radius after the bath: rounding of convex edges, fillet left in concave ones
	At             r3.Vector  // middle of the longest segment
}

// Least is the low end of a measure. Min is +Inf when nothing was measured.
type Least struct {
	Min, P01 float64 // smallest, and 1 % of the area is at or below P01
	At       r3.Vector
}
