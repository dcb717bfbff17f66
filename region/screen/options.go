package screen

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
)

// ErrOptions is wrapped by errors about options that cannot be.
var ErrOptions = errors.New("screening cannot work with these options")

// Limits are the numbers a part is judged by. The zero value of a field takes
// the default beside it, all of them practical design limits that count as
// assumed (references.md section 11), none of them a standard's.
type Limits struct {
	BoreReachDiameters    float64 // depth of a blind hole the bath treats well, in diameters; 1
	BoreMarginalDiameters float64 // depth beyond which the bath does nothing useful, in diameters; 2
	ThroughFactor         float64 // how much longer a hole open at both ends may be; 2
	MinBoreMM             float64 // smallest bore worth treating without an inner cathode; 2.5
	ShieldedFail          float64 // share of the current below which a face counts as not reached; 0.15

	// PolarisationMM is the length L of linear polarisation (conductivity
	// times polarisation resistance) that carries current deeper into holes;
	// 0 means the primary field.
	PolarisationMM float64

	MinWallBuiltMM float64 // thinnest wall that prints; 0.4
	MinWallAfterMM float64 // thinnest wall that may be left; 0.4
	MinGapMM       float64 // gap that must stay open between grown surfaces; 0.3

	// MinPatchMM2 is the skin below which a thin wall or a gap is the tip of an
	// edge or the root of a crevice; 0.5.
	MinPatchMM2 float64

	SharpFrom        s1.Angle // turn of the normal from which an edge is sharp; 40 degrees
	EdgeRadiusFactor float64  // radius of a square edge after the bath, in removal depths; 1
	TipRadiusFactor  float64  // radius of a sharp tip after the bath, in removal depths; 4

	ContactMM float64 // diameter of the contact that carries the part; 4

	Origins Origins // of the limits that findings name

	MinPocketMM  float64 // depth below which a pocket is wetted anyway; 0.5
	MinPocketMM3 float64 // volume below which a pocket does not count; 5
}

// Origins says where limits come from: "measured" or "published"; the zero
// value means assumed.
type Origins struct {
	MinWallBuilt, MinWallAfter, MinGap, EdgeRadius, Contact string
}

// assumed names an origin.
func assumed(origin string) string { return cmp.Or(origin, "assumed") }

func (l Limits) withDefaults() Limits {
	def := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	def(&l.BoreReachDiameters, 1)
	def(&l.BoreMarginalDiameters, 2)
	def(&l.ThroughFactor, 2)
	def(&l.MinBoreMM, 2.5)
	def(&l.ShieldedFail, 0.15)
	def(&l.MinWallBuiltMM, 0.4)
	def(&l.MinWallAfterMM, 0.4)
	def(&l.MinGapMM, 0.3)
	def(&l.MinPatchMM2, 0.5)
	def((*float64)(&l.SharpFrom), float64(40*s1.Degree))
	def(&l.EdgeRadiusFactor, 1)
	def(&l.TipRadiusFactor, 4)
	def(&l.ContactMM, 4)
	def(&l.MinPocketMM, 0.5)
	def(&l.MinPocketMM3, 5)
	return l
}

// Purpose is what the part is polished for; it weighs the findings.
type Purpose string

// Purposes.
const (
	General    Purpose = ""           // nothing in particular
	Fatigue    Purpose = "fatigue"    // load cycles: unreached roughness and thin sections count
	Flow       Purpose = "flow"       // channels count
	Penetrant  Purpose = "penetrant"  // the whole surface must be reached and dry out
	Coating    Purpose = "coating"    // edges, pockets and marks count
	Appearance Purpose = "appearance" // what is seen counts, what is hidden does not
	Size       Purpose = "size"       // bores, walls, corners and edges count
)

// Purposes lists the purposes that have a name.
var Purposes = [...]Purpose{Fatigue, Flow, Penetrant, Coating, Appearance, Size}

// ParsePurpose reads a purpose; the empty word is General.
func ParsePurpose(name string) (Purpose, error) {
	if name == "" || slices.Contains(Purposes[:], Purpose(name)) {
		return Purpose(name), nil
	}
	return "", fmt.Errorf("%q is no purpose: use fatigue, flow, penetrant, coating, appearance or size", name)
}

// Options says how a part is screened.
type Options struct {
	Limits Limits

	BathUp r3.Vector // upwards in the bath; zero: no pockets are looked for

	// SearchHanging compares many directions upwards, BathUp among them, and
	// takes the one in which the part fits and holds back least.
	SearchHanging bool

	Bath Bath // the room for the part

	// Kept marks the facets in keep zones, where no contact may sit, and
	// Exposure gives the share of the mean current a facet gets; nil for none.
	Kept     []bool
	Exposure []float64

	// AllowanceMM is the stock added and TakenMM the depth the bath takes, at
	// the corners of the facets; nil for none.
	AllowanceMM, TakenMM mesh.CornerField

	Purpose Purpose

	// Known are findings made elsewhere, such as a current beyond the
	// rectifier; errors among them count for the verdict.
	Known []finding.Finding

	Tree *bvh.Tree // of the mesh; nil to have it built

	Workers  int                // 0 means GOMAXPROCS
	Progress func(part float64) // 0 to 1, may be nil; called from one goroutine
}

func (o Options) check(m *mesh.Mesh) (Options, error) {
	bad := func(format string, a ...any) (Options, error) {
		return o, fmt.Errorf("%w: "+format, append([]any{ErrOptions}, a...)...)
	}
	if o.BathUp != (r3.Vector{}) {
		if n := o.BathUp.Norm(); !(n > 0) || math.IsInf(n, 0) {
			return bad("the direction upwards in the bath has no length")
		}
		o.BathUp = o.BathUp.Normalize()
	}
	for _, f := range []mesh.CornerField{o.AllowanceMM, o.TakenMM} {
		if f != nil && len(f) != len(m.Facets) {
			return bad("%d values for %d facets", len(f), len(m.Facets))
		}
	}
	if n := len(m.Facets); o.Kept != nil && len(o.Kept) != n || o.Exposure != nil && len(o.Exposure) != n {
		return bad("keep zones or exposure for another number of facets than %d", n)
	}
	if o.SearchHanging && o.BathUp == (r3.Vector{}) {
		return bad("a search for the best hanging needs a direction upwards to begin with")
	}
	if _, err := ParsePurpose(string(o.Purpose)); err != nil {
		return bad("%v", err)
	}
	o.Limits = o.Limits.withDefaults()
	return o, nil
}
