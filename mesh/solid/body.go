package solid

import (
	"math"

	"github.com/golang/geo/r3"
)

// Body is an implicit body: negative inside, positive outside, near the
// surface about the distance to it in mm.
type Body func(p r3.Vector) float64

// Union is what lies in any of the bodies.
func Union(bs ...Body) Body {
	return func(p r3.Vector) float64 {
		d := math.Inf(1)
		for _, b := range bs {
			d = math.Min(d, b(p))
		}
		return d
	}
}

// Blend is the union of bodies with fillets whose size is about k mm (the
// polynomial smooth minimum of two distances).
func Blend(k float64, bs ...Body) Body {
	return func(p r3.Vector) float64 {
		d := bs[0](p)
		for _, b := range bs[1:] {
			e := b(p)
			h := math.Max(k-math.Abs(d-e), 0) / k
			d = math.Min(d, e) - h*h*k/4
		}
		return d
	}
}

// Common is what lies in all of the bodies.
func Common(bs ...Body) Body {
	return func(p r3.Vector) float64 {
		d := math.Inf(-1)
		for _, b := range bs {
			d = math.Max(d, b(p))
		}
		return d
	}
}

// BlendCut is body b less a tool, the edge of the cut rounded by about k mm.
func BlendCut(k float64, b, tool Body) Body {
	neg := func(b Body) Body { return func(p r3.Vector) float64 { return -b(p) } }
	return neg(Blend(k, neg(b), tool))
}

// Strut is a rod with round ends from a to b whose radius runs from ra to rb.
func Strut(a, b r3.Vector, ra, rb float64) Body {
	ab := b.Sub(a)
	return func(p r3.Vector) float64 {
		t := math.Min(math.Max(p.Sub(a).Dot(ab)/ab.Norm2(), 0), 1)
		return p.Sub(a).Sub(ab.Mul(t)).Norm() - (ra + t*(rb-ra))
	}
}

// Rod is a cylinder with flat ends from a to b of radius r.
func Rod(a, b r3.Vector, r float64) Body {
	mid, axis, half := a.Add(b).Mul(0.5), b.Sub(a).Normalize(), b.Sub(a).Norm()/2
	return func(p r3.Vector) float64 {
		q := p.Sub(mid)
		z := q.Dot(axis)
		return math.Max(q.Sub(axis.Mul(z)).Norm()-r, math.Abs(z)-half)
	}
}

// RoundRod is a Rod whose rims are rounded with radius rim.
func RoundRod(a, b r3.Vector, r, rim float64) Body {
	mid, axis, half := a.Add(b).Mul(0.5), b.Sub(a).Normalize(), b.Sub(a).Norm()/2
	return func(p r3.Vector) float64 {
		q := p.Sub(mid)
		z := q.Dot(axis)
		dr, dz := q.Sub(axis.Mul(z)).Norm()-(r-rim), math.Abs(z)-(half-rim)
		return math.Min(math.Max(dr, dz), 0) + math.Hypot(math.Max(dr, 0), math.Max(dz, 0)) - rim
	}
}

// Block is the axis-parallel box between two corners.
func Block(lo, hi r3.Vector) Body {
	c, h := lo.Add(hi).Mul(0.5), hi.Sub(lo).Mul(0.5)
	return func(p r3.Vector) float64 {
		q := p.Sub(c)
		return math.Max(math.Max(math.Abs(q.X)-h.X, math.Abs(q.Y)-h.Y), math.Abs(q.Z)-h.Z)
	}
}

// GyroidSheet is a gyroid wall of the given thickness that repeats every
// period mm, both about: the level function is divided by its mean slope.
func GyroidSheet(period, thickness float64) Body {
	k := 2 * math.Pi / period
	return func(p r3.Vector) float64 {
		sx, cx := math.Sincos(k * p.X)
		sy, cy := math.Sincos(k * p.Y)
		sz, cz := math.Sincos(k * p.Z)
		return math.Abs(sx*cy+sy*cz+sz*cx)/(1.5*k) - thickness/2
	}
}

// StrutLattice is a body-centred lattice of struts of radius r in cubes of the given side.
func StrutLattice(side, r float64) Body {
	return func(p r3.Vector) float64 {
		// Folded into one cube about its centre, where all eight struts meet.
		q := r3.Vector{X: fold(p.X, side), Y: fold(p.Y, side), Z: fold(p.Z, side)}
		d := r3.Vector{X: 1, Y: 1, Z: 1}.Normalize()
		return q.Sub(d.Mul(q.Dot(d))).Norm() - r
	}
}

func fold(x, side float64) float64 {
	return math.Abs(x - side*math.Round(x/side))
}
