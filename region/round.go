package region

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"

	"skinstock/mesh"
)

const (
	// fitRounds bounds the Gauss-Newton steps of a cylinder, which settle in 3 to 6.
	fitRounds = 30
	// settled and nearlySettled are the steps, as shares of the radius, at which a
	// fit ends: lost in rounding, and good enough to see which facets lie on it.
	settled       = 1e-13
	nearlySettled = 1e-6
)

// fitter fits cylinders to facets of a mesh; it keeps what it needs from fit to fit.
type fitter struct {
	m         *mesh.Mesh
	seen      []uint64 // a bit a vertex, all clear between calls
	pts, good []r3.Vector
	off       []float64
	xy        [][2]float64
}

// round is a cylinder without ends.
type round struct {
	c, axis r3.Vector // mm, a point on the axis; unit
	r       float64   // mm
	limit   float64   // mm, see BoreFit.trim
}

// FitBore fits a round cylinder to the corners of facets by least squares of
// the distances (Gauss and Newton's steps on axis, place and radius).
func FitBore(m *mesh.Mesh, facets []int32) (BoreFit, error) {
	f := fitter{m: m}
	return f.bore(facets)
}

// bore fits a cylinder and measures it.
func (f *fitter) bore(facets []int32) (BoreFit, error) {
	o, pts, ok := f.fit(facets, settled)
	if !ok {
		return BoreFit{}, errNoFit
	}
	return o.measure(f.m, facets, pts), nil
}

// fit fits a cylinder up to steps of the given share of its radius. It returns
// the corners fitted too, which are good until the next fit.
func (f *fitter) fit(facets []int32, until float64) (o round, pts []r3.Vector, ok bool) {
	axis, _, ok := axisOf(f.m, facets)
	pts = f.corners(facets)
	if !ok || len(pts) < 6 {
		return o, nil, false
	}
	var origin r3.Vector
	for _, p := range pts {
		origin = origin.Add(p)
	}
	o.axis = axis
	if !f.circle(&o, pts, origin.Mul(1/float64(len(pts)))) || !o.settle(pts, until) {
		return o, nil, false
	}
	// The rims of voxel-born bores are chamfered by the mesher: a second fit
	// goes without the corners that stand out.
	o.limit = f.trimLimit(pts, o)
	f.good = o.trim(f.good[:0], pts, o.limit)
	if len(f.good) >= 6 && len(f.good) < len(pts) {
		if pts = f.good; !o.settle(pts, until) {
			return o, nil, false
		}
	}
	return o, pts, true
}

// corners returns the places of the corners of facets, each once, in order of
// facets; they are good until the next call.
func (f *fitter) corners(facets []int32) []r3.Vector {
	if f.seen == nil {
		f.seen = make([]uint64, (len(f.m.Vertices)+63)/64)
	}
	f.pts = f.pts[:0]
	for _, t := range facets {
		for _, v := range f.m.Facets[t] {
			if bit := uint64(1) << (v % 64); f.seen[v/64]&bit == 0 {
				f.seen[v/64] |= bit
				f.pts = append(f.pts, f.m.Vertices[v])
			}
		}
	}
	for _, t := range facets {
		for _, v := range f.m.Facets[t] {
			f.seen[v/64] = 0
		}
	}
	return f.pts
}

// fitBoreAgain fits the corners of facets that the fit of before would have
// kept: so that what a bore's own corners scatter does not count as a change.
// A bore that has moved is fitted as a new one.
func fitBoreAgain(m *mesh.Mesh, facets []int32, before BoreFit) (BoreFit, error) {
	o := round{c: before.Middle, axis: before.Axis, r: before.DiameterMM / 2}
	pts := o.trim(nil, corners(m, facets), before.trim)
	if len(pts) < 6 || !o.settle(pts, settled) {
		return FitBore(m, facets)
	}
	return o.measure(m, facets, pts), nil
}

// settle takes steps until they are shorter than a share of the radius.
func (o *round) settle(pts []r3.Vector, until float64) bool {
	for range fitRounds {
		step, ok := o.step(pts)
		if !ok || !(o.r > 0) || math.IsInf(o.r, 0) {
			return false
		}
		if step < until*o.r {
			break
		}
	}
	return true
}

// away returns how far p lies off the cylinder.
func (o *round) away(p r3.Vector) float64 {
	w := p.Sub(o.c)
	return math.Abs(w.Sub(o.axis.Mul(w.Dot(o.axis))).Norm() - o.r)
}

// trimLimit returns four medians of the points' distances from the cylinder,
// and a micrometre.
func (f *fitter) trimLimit(pts []r3.Vector, o round) float64 {
	f.off = f.off[:0]
	for _, p := range pts {
		f.off = append(f.off, o.away(p))
	}
	slices.Sort(f.off)
	return 4*f.off[len(f.off)/2] + 0.001
}

// trim appends the points within limit of the cylinder to good.
func (o *round) trim(good, pts []r3.Vector, limit float64) []r3.Vector {
	for _, p := range pts {
		if o.away(p) <= limit {
			good = append(good, p)
		}
	}
	return good
}

// circle fits centre and radius of a circle to points seen along the axis, which
// begins the iteration.
func (f *fitter) circle(o *round, pts []r3.Vector, origin r3.Vector) bool {
	u, v := Across(o.axis)
	f.xy = f.xy[:0]
	for _, p := range pts {
		w := p.Sub(origin)
		f.xy = append(f.xy, [2]float64{w.Dot(u), w.Dot(v)})
	}
	x, y, r, ok := FitCircle(f.xy)
	o.c, o.r = origin.Add(u.Mul(x)).Add(v.Mul(y)), r
	return ok
}

// step improves centre, axis and radius by one step and returns how far they moved.
func (o *round) step(pts []r3.Vector) (float64, bool) {
	u, v := Across(o.axis)
	var sys normal
	for _, p := range pts {
		w := p.Sub(o.c)
		h := w.Dot(o.axis)
		q := w.Sub(o.axis.Mul(h))
		d := q.Norm()
		if d == 0 {
			continue
		}
		n := q.Mul(1 / d)
		x, y := n.Dot(u), n.Dot(v)
		sys.add([unknowns]float64{-x, -y, -h * x, -h * y, -1}, unknowns, o.r-d)
	}
	s, ok := sys.solve(unknowns)
	if !ok {
		return 0, false
	}
	o.c = o.c.Add(u.Mul(s[0])).Add(v.Mul(s[1]))
	o.axis = o.axis.Add(u.Mul(s[2])).Add(v.Mul(s[3])).Normalize()
	o.r += s[4]
	return math.Abs(s[0]) + math.Abs(s[1]) + o.r*(math.Abs(s[2])+math.Abs(s[3])) + math.Abs(s[4]), true
}

// unknowns of a cylinder: two of its place, two of its axis, the radius.
const unknowns = 5

// normal are the normal equations of a least-squares fit, of which the upper triangle is kept.
type normal struct {
	a [unknowns * unknowns]float64
	b [unknowns]float64
}

// add adds the equation row . x = rhs in the first n unknowns.
func (e *normal) add(row [unknowns]float64, n int, rhs float64) {
	for i := range n {
		for j := i; j < n; j++ {
			e.a[i*unknowns+j] += row[i] * row[j]
		}
		e.b[i] += row[i] * rhs
	}
}

// leastPivot is the least share of a diagonal entry that may be left of it in
// elimination: with less, the points do not determine the unknown.
const leastPivot = 1e-13

// solve returns the first n unknowns.
func (e *normal) solve(n int) (x [unknowns]float64, ok bool) {
	var diagonal [unknowns]float64
	for i := range n {
		diagonal[i] = e.a[i*unknowns+i]
	}
	t, ok := lapack64.Potrf(blas64.Symmetric{Uplo: blas.Upper, N: n, Stride: unknowns, Data: e.a[:]})
	if !ok {
		return x, false
	}
	for i := range n {
		if p := e.a[i*unknowns+i]; p*p <= leastPivot*diagonal[i] {
			return x, false
		}
	}
	lapack64.Potrs(t, blas64.General{Rows: n, Cols: 1, Stride: 1, Data: e.b[:n]})
	return e.b, true
}

// measure takes the measures off a fitted cylinder.
func (o *round) measure(m *mesh.Mesh, facets []int32, pts []r3.Vector) BoreFit {
	c, axis := o.c, o.axis
	if k := axis.Abs(); axis.X < 0 && k.X >= k.Y && k.X >= k.Z || axis.Y < 0 && k.Y > k.X && k.Y >= k.Z || axis.Z < 0 && k.Z > k.X && k.Z > k.Y {
		axis = axis.Mul(-1)
	}
	u, v := Across(axis)
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
		Middle: c.Add(axis.Mul((lo + hi) / 2)), Axis: axis, DiameterMM: 2 * o.r, LengthMM: hi - lo,
		RoundnessMM: far - near, CoverDegrees: float64(covered) * 360 / float64(len(sector)), Shaft: outward > 0, trim: o.limit,
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
