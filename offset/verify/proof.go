package verify

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
	"skinstock/region"
)

// Resolution is the distance in mm below which shortfall counts as none: single
// precision holds a coordinate of 250 mm to 0.015 um, a difference of two to 0.03 um.
const Resolution = 5e-5

// Options say how closely to look.
type Options struct {
	Samples     int           // samples spread by area beside the one on every facet and every vertex; 0 takes 20000
	ToleranceMM float64       // shortfall above this makes a place; 0 takes 0.001
	Skins       []region.Skin // skin of each nominal facet; nil for a proof without skins
	MaxPlaces   int           // places listed, worst first; 0 takes 20
	OneWay      bool          // leave out the samples on the grown surface
	Workers     int           // goroutines; 0 takes GOMAXPROCS

	NominalTree, GrownTree *bvh.Tree // of the two meshes; nil to have them built

	// Numbers are ascending numbers of the grown facets, for Watch.Change: facets that
	// stay the same keep theirs, those that take the place of one get its. nil for 0, 1, 2 ...
	Numbers []int32

	// Dry marks facets of the grown mesh that the bath does not wet, as masked
	// faces: nothing is lost from them. nil for none.
	Dry []bool
}

func (o Options) withDefaults() Options {
	if o.Samples <= 0 {
		o.Samples = 20_000
	}
	if o.ToleranceMM <= 0 {
		o.ToleranceMM = 0.001
	}
	if o.MaxPlaces <= 0 {
		o.MaxPlaces = 20
	}
	return o
}

// Proof is what the comparison found. Lengths are mm.
type Proof struct {
	All    Stats
	BySkin []SkinStats // in table order, skins without facets left out; nil without skins

	// Deviation: excess positive, shortfall negative. Where a facet has any
	// shortfall, the worst of it, else its mean excess.
	FacetDeviation  []float64 // len = facets of the nominal mesh
	VertexDeviation []float64 // len = vertices of the nominal mesh; 0 for a vertex without facets

	Histogram Histogram // of the deviation, by area

	Tolerance       float64
	ShortfallPlaces []Place // above the tolerance, worst first, at most MaxPlaces
	PlaceCount      int     // all of them
	Outside         int     // samples outside the grown part by more than Resolution

	// Of the grown surface's vertices; not measured with OneWay.
	GrownSamples   int
	GrownShortfall Worst // greatest lack of stock seen from the grown side
	Reach          Worst // greatest distance beyond the allowance
}

// Within tells whether no shortfall exceeds the tolerance, seen from either side.
func (p *Proof) Within() bool {
	return p.All.Shortfall.Max.Value <= p.Tolerance && p.GrownShortfall.Value <= p.Tolerance
}

// Stats sums up samples, weighted by area.
type Stats struct {
	Samples   int
	Area      float64 // mm2
	Mean      float64 // of the deviation
	RMS       float64 // of the deviation
	Shortfall Spread
	Excess    Spread
}

// SkinStats are the Stats of one skin.
type SkinStats struct {
	Skin region.Skin
	Stats
}

// Spread describes values that are never negative, by share of area. The
// percentiles are good to 1/8192 of the greatest value.
type Spread struct {
	P95, P99 float64
	Max      Worst
}

// Worst is a greatest value and its place.
type Worst struct {
	Value float64
	At    r3.Vector // on the surface that was sampled
	Facet int       // of that surface; -1 when the value is 0
}

func (w *Worst) take(v float64, facet int, at func() r3.Vector) {
	if v > w.Value {
		*w = Worst{Value: v, At: at(), Facet: facet}
	}
}

// Histogram holds the share of the area whose deviation lies in steps from Start on, in mm.
type Histogram struct {
	Start, Step float64
	Share       []float64 // sums to 1
}

// Place is a patch of facets that hang together by their corners and are short
// of stock, seen from either side.
type Place struct {
	At        r3.Vector // of the worst sample
	Facet     int       // there
	Shortfall float64   // there, mm
	FromGrown bool      // it is the grown surface above that lacks it, between the samples of the nominal one
	Facets    int
	Area      float64 // mm2
}
