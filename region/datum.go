package region

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// datumTol is how much a kept face may change, in mm.
const datumTol = 0.001

// Datum is a masked face before and after growing; planes and bores are
// measured by least squares, other faces facet by facet.
type Datum struct {
	Zone                    int // number of the zone
	Name                    string
	PlaneBefore, PlaneAfter *PlaneFit // nil for other faces, and when the face is gone
	BoreBefore, BoreAfter   *BoreFit

	ShiftMM   float64  // along the plane's normal, or across the bore's axis
	Tilt      s1.Angle // between the normals, or the axes
	LargerMM  float64  // diameter after less before; 0 for a plane
	FormMM    float64  // flatness or roundness after less before
	LiftMM    float64  // how far off the face a corner lies
	Missing   int      // facets of the zone of which nothing is left
	Gone      bool     // nothing at all is left of the zone, so nothing was measured
	Unchanged bool     // nothing of this beyond 1 um over the face's extent, and nothing missing

	extent float64 // mm
}

// String tells the result in one line.
func (d *Datum) String() string {
	switch {
	case d.Unchanged:
		return d.Name + ": unchanged within 1 um"
	case d.Gone:
		return d.Name + ": not found on the grown part"
	}
	return fmt.Sprintf("%s: shifted %.4f mm, tilted %.4f degrees, diameter %+.4f mm, form %+.4f mm, lifted %.4f mm, %d facets missing",
		d.Name, d.ShiftMM, d.Tilt.Degrees(), d.LargerMM, d.FormMM, d.LiftMM, d.Missing)
}

// CheckDatums measures the masked faces of a part before and after growing.
// facetOf tells for each facet of grown which facet of nominal it is or is a
// piece of, negative for none; nil when they are the same. whole says that
// every facet of nominal should have a piece, as after growing, and not after
// Trace.
func CheckDatums(nominal, grown *mesh.Mesh, facetOf []int32, whole bool, k *Kept) ([]Datum, error) {
	pieces := make([][]int32, len(k.Zones))
	left := make([]bool, len(k.Zone))
	of := func(g int32) int32 {
		if facetOf == nil {
			return g
		}
		return facetOf[g]
	}
	for g := range grown.Facets {
		if f := of(int32(g)); f >= 0 && k.Zone[f] != NoZone {
			left[f] = true
			pieces[k.Zone[f]] = append(pieces[k.Zone[f]], int32(g))
		}
	}
	var out []Datum
	for i := range k.Zones {
		z := &k.Zones[i]
		if !z.Mask() {
			continue
		}
		d, before := Datum{Zone: i, Name: z.Label(), Gone: len(pieces[i]) == 0}, k.FacetsOf(i)
		for _, f := range before {
			if !left[f] && (whole || d.Gone) {
				d.Missing++
			}
		}
		if !d.Gone {
			if err := d.measure(z, nominal, grown, before, pieces[i], of); err != nil {
				return nil, fmt.Errorf("keep zone %q after growing: %w", d.Name, err)
			}
		}
		out = append(out, d)
	}
	return out, nil
}

// measure compares the facets of a zone before and after.
func (d *Datum) measure(z *KeptZone, nominal, grown *mesh.Mesh, before, after []int32, of func(int32) int32) error {
	var err error
	switch {
	case z.Plane != nil:
		err = d.planes(nominal, grown, before, after)
	case z.Bore != nil:
		err = d.bores(nominal, grown, before, after)
	default:
		d.LiftMM = math.Inf(1)
	}
	// A piece of a facet lies in its plane, though new corners of a cut facet
	// lie inside the round that its old ones stand on; a round meshed anew lies
	// on the round, though not in the old facets' planes. Either will do.
	d.LiftMM = min(d.LiftMM, offPlanes(nominal, grown, after, of))
	d.Unchanged = err == nil && d.Still() && d.Missing == 0
	return err
}

// offPlanes returns how far the corners of facets lie off the planes of those they are pieces of.
func offPlanes(nominal, grown *mesh.Mesh, after []int32, of func(int32) int32) (far float64) {
	for _, g := range after {
		f := int(of(g))
		n, p := nominal.FacetNormal(f), nominal.Corner(f, 0)
		if isFlat(nominal, f, noiseHeight) {
			continue
		}
		for k := range 3 {
			far = max(far, math.Abs(grown.Corner(int(g), k).Sub(p).Dot(n)))
		}
	}
	return far
}

// traceTurn is the cosine between the normals of a facet and what it is taken
// to be a piece of: a facet of a tessellated round and its neighbours' agree
// by more, a wall and the face at its foot by less.
const traceTurn = 0.8

// Trace finds the facets of a grown part that are kept ones, for parts that
// come without word of what became of each facet. A facet is the kept one that
// lies nearest to it with the same look; beyond the rim of a kept face, where
// growing has drawn it out, that need not be the nearest of all. reach is how
// far off it may lie, mm. The result is as CheckDatums takes it: negative for
// facets that are not kept.
func Trace(nominal, grown *mesh.Mesh, k *Kept, reach float64) []int32 {
	kept, number := &mesh.Mesh{Vertices: nominal.Vertices}, []int32{}
	for f, z := range k.Zone {
		if z != NoZone {
			kept.Facets = append(kept.Facets, nominal.Facets[f])
			number = append(number, int32(f))
		}
	}
	whole, zones := bvh.New(nominal, 0), bvh.New(kept, 0)
	out := make([]int32, len(grown.Facets))
	hint, hintKept := bvh.NoHint, bvh.NoHint
	for g := range grown.Facets {
		out[g] = -1
		middle, n := grown.Centroid(g), grown.FacetNormal(g)
		z := zones.Closest(middle, hintKept)
		hintKept = z.Facet
		f := number[z.Facet]
		if z.Dist > reach || n.Dot(nominal.FacetNormal(int(f))) < traceTurn {
			continue
		}
		h := whole.Closest(middle, hint)
		hint = h.Facet
		if k.Zone[h.Facet] != NoZone || n.Dot(nominal.FacetNormal(h.Facet)) < traceTurn {
			out[g] = f
		}
	}
	return out
}

// planes compares a plane before and after.
func (d *Datum) planes(nominal, grown *mesh.Mesh, before, after []int32) error {
	b, err := FitPlane(nominal, before)
	if err != nil {
		return err
	}
	a, err := FitPlane(grown, after)
	if err != nil {
		return err
	}
	d.PlaneBefore, d.PlaneAfter = &b, &a
	d.ShiftMM = math.Abs(a.Point.Sub(b.Point).Dot(b.Normal))
	d.Tilt = s1.Angle(math.Asin(min(1, a.Normal.Cross(b.Normal).Norm())))
	d.FormMM = a.FlatnessMM - b.FlatnessMM
	off := func(p r3.Vector) float64 { return math.Abs(p.Sub(b.Point).Dot(b.Normal)) }
	old, now := corners(nominal, before), corners(grown, after)
	d.LiftMM = farthest(now, off) - farthest(old, off)
	d.extent = span(old)
	return nil
}

// bores compares a bore before and after.
func (d *Datum) bores(nominal, grown *mesh.Mesh, before, after []int32) error {
	b, err := FitBore(nominal, before)
	if err != nil {
		return err
	}
	a, err := fitBoreAgain(grown, after, b)
	if err != nil {
		return err
	}
	if b, err = fitBoreAgain(nominal, before, b); err != nil { // the same corners
		return err
	}
	d.BoreBefore, d.BoreAfter = &b, &a
	d.ShiftMM = b.radius(a.Middle)
	d.Tilt = s1.Angle(math.Asin(min(1, a.Axis.Cross(b.Axis).Norm())))
	d.LargerMM = a.DiameterMM - b.DiameterMM
	d.FormMM = a.RoundnessMM - b.RoundnessMM
	off := func(p r3.Vector) float64 { return math.Abs(b.radius(p) - b.DiameterMM/2) }
	d.LiftMM = farthest(corners(grown, after), off) - farthest(corners(nominal, before), off)
	d.extent = b.LengthMM
	return nil
}

// Still tells whether what is left of the face is where it was, within 1 um.
// The form follows from the lift.
func (d *Datum) Still() bool {
	return !d.Gone && max(d.ShiftMM, math.Sin(d.Tilt.Radians())*d.extent, math.Abs(d.LargerMM), d.LiftMM) <= datumTol
}

// farthest returns the greatest distance.
func farthest(ps []r3.Vector, off func(r3.Vector) float64) (far float64) {
	for _, p := range ps {
		far = max(far, off(p))
	}
	return far
}

// span returns the diagonal of the box around points.
func span(ps []r3.Vector) float64 {
	if len(ps) == 0 {
		return 0
	}
	lo, hi := ps[0], ps[0]
	for _, p := range ps {
		lo = r3.Vector{X: min(lo.X, p.X), Y: min(lo.Y, p.Y), Z: min(lo.Z, p.Z)}
		hi = r3.Vector{X: max(hi.X, p.X), Y: max(hi.Y, p.Y), Z: max(hi.Z, p.Z)}
	}
	return hi.Sub(lo).Norm()
}
