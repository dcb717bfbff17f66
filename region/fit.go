package region

import (
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"skinstock/mesh"
)

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
	seen := make(map[int32]bool, len(facets))
	var out []r3.Vector
	for _, f := range facets {
		for _, v := range m.Facets[f] {
			if !seen[v] {
				seen[v] = true
				out = append(out, m.Vertices[v])
			}
		}
	}
	return out
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
	pts := corners(m, facets)
	if len(pts) < 3 {
		return PlaneFit{}, errNoFit
	}
	var c r3.Vector
	for _, p := range pts {
		c = c.Add(p)
	}
	c = c.Mul(1 / float64(len(pts)))
	var s [6]float64
	for _, p := range pts {
		addOuter(&s, p.Sub(c), 1)
	}
	_, axes, ok := eigen(s)
	if !ok {
		return PlaneFit{}, errNoFit
	}
	n := axes[0] // least spread
	if n.Dot(meanNormal(m, facets)) < 0 {
		n = n.Mul(-1)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		d := p.Sub(c).Dot(n)
		lo, hi = min(lo, d), max(hi, d)
	}
	return PlaneFit{Point: c, Normal: n, FlatnessMM: hi - lo}, nil
}

// addOuter adds w d dT to the symmetric matrix xx, xy, xz, yy, yz, zz.
func addOuter(s *[6]float64, d r3.Vector, w float64) {
	s[0] += w * d.X * d.X
	s[1] += w * d.X * d.Y
	s[2] += w * d.X * d.Z
	s[3] += w * d.Y * d.Y
	s[4] += w * d.Y * d.Z
	s[5] += w * d.Z * d.Z
}

// eigen returns the eigenvalues, least first, and unit eigenvectors of a symmetric matrix.
func eigen(s [6]float64) (values [3]float64, axes [3]r3.Vector, ok bool) {
	var e mat.EigenSym
	if !e.Factorize(mat.NewSymDense(3, []float64{s[0], s[1], s[2], s[1], s[3], s[4], s[2], s[4], s[5]}), true) {
		return values, axes, false
	}
	e.Values(values[:])
	var q mat.Dense
	e.VectorsTo(&q)
	for i := range axes {
		axes[i] = r3.Vector{X: q.At(0, i), Y: q.At(1, i), Z: q.At(2, i)}
	}
	return values, axes, true
}

// axisOf returns the direction along which the facets' normals vary least, and
// the middle over the greatest eigenvalue: 0 for a plane, 1 for a full round.
func axisOf(m *mesh.Mesh, facets []int32) (axis r3.Vector, bend float64, ok bool) {
	var s [6]float64
	for _, f := range facets {
		n := m.AreaNormal(int(f))
		if l := n.Norm(); l > 0 {
			addOuter(&s, n.Mul(1/l), l)
		}
	}
	values, axes, ok := eigen(s)
	if !ok || values[2] == 0 {
		return axis, 0, false
	}
	return axes[0], values[1] / values[2], true
}

// fitRounds bounds the Gauss-Newton steps of a cylinder, which settle in 3 to 6.
const fitRounds = 30

// FitBore fits a round cylinder to the corners of facets by least squares of
// the distances (Gauss and Newton's steps on axis, place and radius).
func FitBore(m *mesh.Mesh, facets []int32) (BoreFit, error) {
	axis, _, ok := axisOf(m, facets)
	pts := corners(m, facets)
	if !ok || len(pts) < 6 {
		return BoreFit{}, errNoFit
	}
	var origin r3.Vector
	for _, p := range pts {
		origin = origin.Add(p)
	}
	origin = origin.Mul(1 / float64(len(pts)))
	c, r, ok := fitCircle(pts, origin, axis)
	if !ok || !settle(pts, &c, &axis, &r) {
		return BoreFit{}, errNoFit
	}
	// The rims of voxel-born bores are chamfered by the mesher: a second fit
	// goes without the corners that stand out.
	limit := trimLimit(pts, c, axis, r)
	good := trim(pts, c, axis, r, limit)
	if len(good) >= 6 && len(good) < len(pts) {
		if !settle(good, &c, &axis, &r) {
			return BoreFit{}, errNoFit
		}
		pts = good
	}
	b := measureBore(m, facets, pts, c, axis, r)
	b.trim = limit
	return b, nil
}

// fitBoreAgain fits the corners of facets that the fit of before would have
// kept: so that what a bore's own corners scatter does not count as a change.
// A bore that has moved is fitted as a new one.
func fitBoreAgain(m *mesh.Mesh, facets []int32, before BoreFit) (BoreFit, error) {
	pts := trim(corners(m, facets), before.Middle, before.Axis, before.DiameterMM/2, before.trim)
	c, axis, r := before.Middle, before.Axis, before.DiameterMM/2
	if len(pts) < 6 || !settle(pts, &c, &axis, &r) {
		return FitBore(m, facets)
	}
	return measureBore(m, facets, pts, c, axis, r), nil
}

// settle takes steps until they are lost in rounding.
func settle(pts []r3.Vector, c, axis *r3.Vector, r *float64) bool {
	for range fitRounds {
		step, ok := cylinderStep(pts, c, axis, r)
		if !ok || !(*r > 0) || math.IsInf(*r, 0) {
			return false
		}
		if step < 1e-13**r {
			break
		}
	}
	return true
}

// offRound returns how far p lies off a cylinder.
func offRound(p, c, axis r3.Vector, r float64) float64 {
	w := p.Sub(c)
	return math.Abs(w.Sub(axis.Mul(w.Dot(axis))).Norm() - r)
}

// trimLimit returns four medians of the points' distances from the cylinder,
// and a micrometre.
func trimLimit(pts []r3.Vector, c, axis r3.Vector, r float64) float64 {
	off := make([]float64, len(pts))
	for i, p := range pts {
		off[i] = offRound(p, c, axis, r)
	}
	return 4*median(off) + 0.001
}

// trim returns the points within limit of the cylinder.
func trim(pts []r3.Vector, c, axis r3.Vector, r, limit float64) []r3.Vector {
	var good []r3.Vector
	for _, p := range pts {
		if offRound(p, c, axis, r) <= limit {
			good = append(good, p)
		}
	}
	return good
}

// median returns the middle value.
func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}

// across returns two unit vectors that make a right-handed frame with axis.
func across(axis r3.Vector) (u, v r3.Vector) {
	u = axis.Ortho().Normalize()
	return u, axis.Cross(u)
}

// fitCircle fits a circle to points seen along axis (Kasa 1976: linear in
// centre and radius squared), which begins the iteration.
func fitCircle(pts []r3.Vector, origin, axis r3.Vector) (r3.Vector, float64, bool) {
	u, v := across(axis)
	a := mat.NewDense(len(pts), 3, nil)
	b := mat.NewVecDense(len(pts), nil)
	for i, p := range pts {
		x, y := p.Sub(origin).Dot(u), p.Sub(origin).Dot(v)
		a.SetRow(i, []float64{2 * x, 2 * y, 1})
		b.SetVec(i, x*x+y*y)
	}
	var s mat.VecDense
	if s.SolveVec(a, b) != nil {
		return origin, 0, false
	}
	x, y := s.AtVec(0), s.AtVec(1)
	r2 := s.AtVec(2) + x*x + y*y
	return origin.Add(u.Mul(x)).Add(v.Mul(y)), math.Sqrt(max(r2, 0)), r2 > 0
}

// cylinderStep improves centre, axis and radius by one step and returns how far they moved.
func cylinderStep(pts []r3.Vector, c, axis *r3.Vector, r *float64) (float64, bool) {
	u, v := across(*axis)
	ata := mat.NewSymDense(5, nil)
	atb := mat.NewVecDense(5, nil)
	for _, p := range pts {
		w := p.Sub(*c)
		h := w.Dot(*axis)
		q := w.Sub(axis.Mul(h))
		d := q.Norm()
		if d == 0 {
			continue
		}
		n := q.Mul(1 / d)
		x, y := n.Dot(u), n.Dot(v)
		row := [5]float64{-x, -y, -h * x, -h * y, -1}
		for i := range row {
			for j := i; j < 5; j++ {
				ata.SetSym(i, j, ata.At(i, j)+row[i]*row[j])
			}
			atb.SetVec(i, atb.AtVec(i)-row[i]*(d-*r))
		}
	}
	var s mat.VecDense
	if s.SolveVec(ata, atb) != nil {
		return 0, false
	}
	*c = c.Add(u.Mul(s.AtVec(0))).Add(v.Mul(s.AtVec(1)))
	*axis = axis.Add(u.Mul(s.AtVec(2))).Add(v.Mul(s.AtVec(3))).Normalize()
	*r += s.AtVec(4)
	return math.Abs(s.AtVec(0)) + math.Abs(s.AtVec(1)) + *r*(math.Abs(s.AtVec(2))+math.Abs(s.AtVec(3))) + math.Abs(s.AtVec(4)), true
}

// measureBore takes the measures off a fitted cylinder.
func measureBore(m *mesh.Mesh, facets []int32, pts []r3.Vector, c, axis r3.Vector, r float64) BoreFit {
	if k := axis.Abs(); axis.X < 0 && k.X >= k.Y && k.X >= k.Z || axis.Y < 0 && k.Y > k.X && k.Y >= k.Z || axis.Z < 0 && k.Z > k.X && k.Z > k.Y {
		axis = axis.Mul(-1)
	}
	u, v := across(axis)
	lo, hi, near, far := math.Inf(1), math.Inf(-1), math.Inf(1), 0.0
	for _, p := range pts {
		w := p.Sub(c)
		h := w.Dot(axis)
		d := w.Sub(axis.Mul(h)).Norm()
		lo, hi, near, far = min(lo, h), max(hi, h), min(near, d), max(far, d)
	}
	var outward float64
	var sector [72]bool
	for _, f := range facets {
		a, b, e := m.Triangle(int(f))
		w := a.Add(b).Add(e).Mul(1.0 / 3).Sub(c)
		n := m.AreaNormal(int(f))
		outward += n.Dot(w.Sub(axis.Mul(w.Dot(axis))))
		markArc(&sector, []r3.Vector{a.Sub(c), b.Sub(c), e.Sub(c)}, u, v)
	}
	covered := 0
	for _, s := range sector {
		if s {
			covered++
		}
	}
	return BoreFit{
		Middle: c.Add(axis.Mul((lo + hi) / 2)), Axis: axis, DiameterMM: 2 * r, LengthMM: hi - lo,
		RoundnessMM: far - near, CoverDegrees: float64(covered) * 360 / float64(len(sector)), Shaft: outward > 0,
	}
}

// markArc marks the sectors around the axis that a facet spans.
func markArc(sector *[72]bool, ws []r3.Vector, u, v r3.Vector) {
	const full = 2 * math.Pi
	n := float64(len(sector))
	base := math.Atan2(ws[0].Dot(v), ws[0].Dot(u))
	lo, hi := 0.0, 0.0
	for _, w := range ws[1:] {
		d := math.Remainder(math.Atan2(w.Dot(v), w.Dot(u))-base, full)
		lo, hi = min(lo, d), max(hi, d)
	}
	for i := math.Floor((base + lo) / full * n); i <= (base+hi)/full*n; i++ {
		k := int(math.Mod(i, n))
		if k < 0 {
			k += len(sector)
		}
		sector[k] = true
	}
}
