package field

import (
	"math"

	"github.com/golang/geo/r3"
)

// layers returns, for the flat triangle abc seen from x, the integral of 1/r
// over its area (mm) and the solid angle it fills (sr), positive when x lies on
// the side its normal points to.
//
// The potential is the sum over the edges of distance times logarithm, less
// height times solid angle (Wilton et al., IEEE Trans. Antennas Propag. 32
// (1984) 276); the logarithm in the form (ra+rb+l)/(ra+rb-l) loses no digits for
// points beside an edge. The solid angle is that of van Oosterom and Strackee,
// IEEE Trans. Biomed. Eng. 30 (1983) 125. A point inside the triangle itself
// sees a solid angle of +-2 pi: the caller knows that it sits there and drops it.
func layers(x, a, b, c r3.Vector) (inverse, angle float64) {
	n := b.Sub(a).Cross(c.Sub(a))
	area2 := n.Norm()
	if area2 == 0 {
		return 0, 0
	}
	n = n.Mul(1 / area2)
	ra, rb, rc := a.Sub(x), b.Sub(x), c.Sub(x)
	la, lb, lc := ra.Norm(), rb.Norm(), rc.Norm()
	ab, bc, ca := ra.Cross(rb), rb.Cross(rc), rc.Cross(ra)
	inverse = edgeTerm(n.Dot(ab), la, lb, b.Sub(a).Norm()) +
		edgeTerm(n.Dot(bc), lb, lc, c.Sub(b).Norm()) +
		edgeTerm(n.Dot(ca), lc, la, a.Sub(c).Norm())
	triple := ra.Dot(bc)
	den := float64(la*lb*lc) + float64(ra.Dot(rb)*lc) + float64(rb.Dot(rc)*la) + float64(rc.Dot(ra)*lb)
	angle = -2 * math.Atan2(triple, den)
	height := -n.Dot(ra)
	return inverse - math.Abs(height*angle), angle
}

// edgeTerm is one edge's share of the potential: twice the area of the triangle
// from the foot of x to the edge, over the edge's length, times the logarithm.
// On the edge's own line the area is nought faster than the logarithm grows.
func edgeTerm(area2, ra, rb, l float64) float64 {
	d := ra + rb - l
	if l == 0 || d <= 1e-15*l {
		return 0
	}
	return area2 / l * math.Log1p(2*l/d)
}

// Points and weights of the rules for a triangle, as barycentric coordinates;
// weights add up to 1. Three points are exact for squares, seven for the fifth
// degree (Radon; see Stroud, Approximate Calculation of Multiple Integrals, T2:5-1).
var (
	rule3 = []node3{{2. / 3, 1. / 6, 1. / 6, 1. / 3}, {1. / 6, 2. / 3, 1. / 6, 1. / 3}, {1. / 6, 1. / 6, 2. / 3, 1. / 3}}
	rule7 = radon()
)

type node3 struct{ u, v, w, weight float64 }

func radon() []node3 {
	s := math.Sqrt(15)
	out := []node3{{1. / 3, 1. / 3, 1. / 3, 9. / 40}}
	for _, g := range []struct{ a, w float64 }{{(6 - s) / 21, (155 - s) / 1200}, {(6 + s) / 21, (155 + s) / 1200}} {
		b := 1 - 2*g.a
		out = append(out, node3{b, g.a, g.a, g.w}, node3{g.a, b, g.a, g.w}, node3{g.a, g.a, b, g.w})
	}
	return out
}

func (n node3) at(a, b, c r3.Vector) r3.Vector {
	return r3.Vector{
		X: float64(n.u*a.X) + float64(n.v*b.X) + float64(n.w*c.X),
		Y: float64(n.u*a.Y) + float64(n.v*b.Y) + float64(n.w*c.Y),
		Z: float64(n.u*a.Z) + float64(n.v*b.Z) + float64(n.w*c.Z),
	}
}
