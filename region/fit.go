package region

import (
	"errors"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/sym3"
)

// errNoBend is returned where a surface is too flat to be round.
var errNoBend = errors.New("the surface does not bend")

// errNoFit is returned when points determine no plane or cylinder.
var errNoFit = errors.New("the points determine no such surface")

// PlaneFit is a plane by least squares through the corners of facets.
type PlaneFit struct {
	Point      r3.Vector // mm, the mean of the corners
	Normal     r3.Vector // unit, out of the metal
	FlatnessMM float64   // distance between the two parallel planes that hold all corners
}

// BoreFit is a round cylinder by least squares through the corners of facets,
// less those that stand out.
type BoreFit struct {
	Middle       r3.Vector // mm, on the axis, halfway along the corners
	Axis         r3.Vector // unit, its largest component positive
	DiameterMM   float64
	LengthMM     float64
	RoundnessMM  float64 // greatest less least distance from the axis of the corners fitted
	CoverDegrees float64 // how far the corners reach around the axis
	Shaft        bool    // true when the metal is inside

	trim float64 // mm, distance from the first fit beyond which a corner was left out
}

// radius returns the distance of p from the axis, mm.
func (b *BoreFit) radius(p r3.Vector) float64 {
	w := p.Sub(b.Middle)
	return w.Sub(b.Axis.Mul(w.Dot(b.Axis))).Norm()
}

// corners returns the places of the corners of facets, each once, in order of facets.
func corners(m *mesh.Mesh, facets []int32) []r3.Vector {
	f := fitter{m: m}
	return f.corners(facets)
}

// meanNormal returns the area-weighted sum of normals at unit length.
func meanNormal(m *mesh.Mesh, facets []int32) r3.Vector {
	var n r3.Vector
	for _, f := range facets {
		n = n.Add(m.AreaNormal(int(f)))
	}
	return n.Normalize()
}

// FitPlane fits a plane to the corners of facets.
func FitPlane(m *mesh.Mesh, facets []int32) (PlaneFit, error) {
	f := fitter{m: m}
	return f.plane(facets)
}

func (f *fitter) plane(facets []int32) (PlaneFit, error) {
	pts := f.corners(facets)
	if len(pts) < 3 {
		return PlaneFit{}, errNoFit
	}
	var c r3.Vector
	for _, p := range pts {
		c = c.Add(p)
	}
	c = c.Mul(1 / float64(len(pts)))
	var s sym3.Matrix
	for _, p := range pts {
		s.Add(p.Sub(c), 1)
	}
	_, axes := s.Eigen()
	n := axes[2] // least spread
	if n.Dot(meanNormal(f.m, facets)) < 0 {
		n = n.Mul(-1)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		d := p.Sub(c).Dot(n)
		lo, hi = min(lo, d), max(hi, d)
	}
	return PlaneFit{Point: c, Normal: n, FlatnessMM: hi - lo}, nil
}

// axisOf returns the direction along which the facets' normals vary least, and
// the middle over the greatest eigenvalue: 0 for a plane, 1 for a full round.
func axisOf(m *mesh.Mesh, facets []int32) (axis r3.Vector, bend float64, ok bool) {
	var s sym3.Matrix
	for _, f := range facets {
		n := m.AreaNormal(int(f))
		if l := n.Norm(); l > 0 {
			s.Add(n.Mul(1/l), l)
		}
	}
	values, axes := s.Eigen()
	if values[0] == 0 {
		return axis, 0, false
	}
	return axes[2], values[1] / values[0], true
}
