package region

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
)

// datumTol is how much a kept face may change, in mm.
const datumTol = 0.001

// Datum is a kept plane or bore measured by least squares before and after growing.
type Datum struct {
	Zone                    int // number of the zone
	Name                    string
	PlaneBefore, PlaneAfter *PlaneFit // nil for a bore
	BoreBefore, BoreAfter   *BoreFit  // nil for a plane

	ShiftMM   float64  // along the plane's normal, or across the bore's axis
	Tilt      s1.Angle // between the normals, or the axes
	LargerMM  float64  // diameter after less before; 0 for a plane
	FormMM    float64  // flatness or roundness after less before
	LiftMM    float64  // how much farther off the face a corner lies than one did before
	Missing   int      // facets of the zone of which nothing is left
	Unchanged bool     // nothing of this beyond 1 um over the face's extent, and nothing missing
}

// String tells the result in one line.
func (d *Datum) String() string {
	if d.Unchanged {
		return d.Name + ": unchanged within 1 um"
	}
	return fmt.Sprintf("%s: shifted %.4f mm, tilted %.4f degrees, diameter %+.4f mm, form %+.4f mm, %d facets missing",
		d.Name, d.ShiftMM, d.Tilt.Degrees(), d.LargerMM, d.FormMM, d.Missing)
}

// CheckDatums measures the masked planes and bores of a part before and after
// growing. facetOf tells for each facet of grown which facet of nominal it is
// or is a piece of; nil when they are the same. Zones that are neither one
// plane nor one bore are left out.
func CheckDatums(nominal, grown *mesh.Mesh, facetOf []int32, k *Kept) ([]Datum, error) {
	pieces := make([][]int32, len(k.Zones))
	left := make([]bool, len(k.Zone))
	for g := range grown.Facets {
		f := int32(g)
		if facetOf != nil {
			f = facetOf[g]
		}
		if f >= 0 && k.Zone[f] != NoZone {
			left[f] = true
			pieces[k.Zone[f]] = append(pieces[k.Zone[f]], int32(g))
		}
	}
	var out []Datum
	for i := range k.Zones {
		z := &k.Zones[i]
		if !z.Mask() || z.Plane == nil && z.Bore == nil {
			continue
		}
		d, before := Datum{Zone: i, Name: z.Label()}, k.FacetsOf(i)
		for _, f := range before {
			if !left[f] {
				d.Missing++
			}
		}
		measure := d.bores
		if z.Plane != nil {
			measure = d.planes
		}
		if err := measure(nominal, grown, before, pieces[i]); err != nil {
			return nil, fmt.Errorf("keep zone %q after growing: %w", d.Name, err)
		}
		out = append(out, d)
	}
	return out, nil
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
	d.judge(span(old))
	return nil
}

// bores compares a bore before and after.
func (d *Datum) bores(nominal, grown *mesh.Mesh, before, after []int32) error {
	b, err := FitBore(nominal, before)
	if err != nil {
		return err
	}
	a, err := FitBore(grown, after)
	if err != nil {
		return err
	}
	d.BoreBefore, d.BoreAfter = &b, &a
	d.ShiftMM = b.radius(a.Middle)
	d.Tilt = s1.Angle(math.Asin(min(1, a.Axis.Cross(b.Axis).Norm())))
	d.LargerMM = a.DiameterMM - b.DiameterMM
	d.FormMM = a.RoundnessMM - b.RoundnessMM
	off := func(p r3.Vector) float64 { return math.Abs(b.radius(p) - b.DiameterMM/2) }
	d.LiftMM = farthest(corners(grown, after), off) - farthest(corners(nominal, before), off)
	d.judge(b.LengthMM)
	return nil
}

// judge sets Unchanged for a face of the given extent in mm.
func (d *Datum) judge(extent float64) {
	worst := max(d.ShiftMM, math.Sin(d.Tilt.Radians())*extent, math.Abs(d.LargerMM), math.Abs(d.FormMM), d.LiftMM)
	d.Unchanged = worst <= datumTol && d.Missing == 0
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
