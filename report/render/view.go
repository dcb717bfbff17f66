package render

import (
	"math"

	"github.com/golang/geo/r3"
)

// View is an orthographic camera. Right, Up and Toward are unit vectors at
// right angles; Toward points from the part to the eye. Centre lies in the
// middle of the picture.
type View struct {
	Right, Up, Toward r3.Vector
	Centre            r3.Vector
	PxPerMM           float64
}

// LookFrom returns the view by an eye in the given direction from the part,
// with the up vector upright in the picture. When the two are parallel, any
// upright direction is taken.
func LookFrom(toward, up r3.Vector) View {
	t := toward.Normalize()
	r := up.Cross(t)
	if r.Norm() < 1e-9*math.Max(1, up.Norm()) {
		r = t.Ortho()
	}
	r = r.Normalize()
	return View{Right: r, Up: t.Cross(r), Toward: t, PxPerMM: 1}
}

// Project returns the pixel position of a point in a picture of w by h pixels,
// x to the right and y down from the upper left corner, and its depth in mm
// behind the plane through the centre, larger when farther.
func (v View) Project(p r3.Vector, w, h int) (x, y, depth float64) {
	d := p.Sub(v.Centre)
	return float64(w)/2 + float64(d.Dot(v.Right)*v.PxPerMM),
		float64(h)/2 - float64(d.Dot(v.Up)*v.PxPerMM),
		-d.Dot(v.Toward)
}

// Extent is the box of a part as a view sees it, in mm along right, up and toward.
type Extent struct{ Lo, Hi r3.Vector }

// Extent returns the box around the points in the view's axes, from the origin.
func (v View) Extent(points []r3.Vector) Extent {
	if len(points) == 0 {
		return Extent{}
	}
	inf := math.Inf(1)
	lo, hi := [3]float64{inf, inf, inf}, [3]float64{-inf, -inf, -inf}
	for _, p := range points {
		for k, q := range [3]float64{p.Dot(v.Right), p.Dot(v.Up), p.Dot(v.Toward)} {
			lo[k], hi[k] = min(lo[k], q), max(hi[k], q)
		}
	}
	return Extent{Lo: r3.Vector{X: lo[0], Y: lo[1], Z: lo[2]}, Hi: r3.Vector{X: hi[0], Y: hi[1], Z: hi[2]}}
}

// Union returns the box around both.
func (e Extent) Union(o Extent) Extent {
	return Extent{
		Lo: r3.Vector{X: math.Min(e.Lo.X, o.Lo.X), Y: math.Min(e.Lo.Y, o.Lo.Y), Z: math.Min(e.Lo.Z, o.Lo.Z)},
		Hi: r3.Vector{X: math.Max(e.Hi.X, o.Hi.X), Y: math.Max(e.Hi.Y, o.Hi.Y), Z: math.Max(e.Hi.Z, o.Hi.Z)},
	}
}

// Size returns the sides of the box in mm.
func (e Extent) Size() r3.Vector { return e.Hi.Sub(e.Lo) }

// On returns the view with the middle of the box in its centre.
func (v View) On(e Extent) View {
	m := e.Lo.Add(e.Hi).Mul(0.5)
	v.Centre = v.Right.Mul(m.X).Add(v.Up.Mul(m.Y)).Add(v.Toward.Mul(m.Z))
	return v
}

// Fit returns the view centred on the points and scaled so that they fill a
// picture of w by h pixels up to a margin in pixels.
func (v View) Fit(points []r3.Vector, w, h int, margin float64) View {
	e := v.Extent(points)
	v = v.On(e)
	s := e.Size()
	v.PxPerMM = math.Min((float64(w)-2*margin)/s.X, (float64(h)-2*margin)/s.Y)
	if !(v.PxPerMM > 0) || math.IsInf(v.PxPerMM, 0) {
		v.PxPerMM = 1
	}
	return v
}
