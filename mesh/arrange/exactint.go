package arrange

import (
	"math"
	"math/big"

	"github.com/golang/geo/r3"
)

// unitsPerMM is the grid of exact arithmetic: a power of two, so that a
// single-precision coordinate above 0.25 um is a whole number of units as it
// is, and smaller ones move by at most 7e-12 mm.
const unitsPerMM = 1 << 36

// maxCoordMM bounds coordinates so that differences of grid numbers are exact
// in float64: 2^15 mm * 2^36 = 2^51.
const maxCoordMM = 1 << 15

// snap returns the nearest point that is exact both in single precision and on the grid.
func snap(p r3.Vector) r3.Vector {
	return r3.Vector{X: snap1(p.X), Y: snap1(p.Y), Z: snap1(p.Z)}
}

func snap1(x float64) float64 {
	f := float64(float32(x))
	// A value of 24 bits stays one after rounding to a coarser grid, and +0 takes the sign off zero.
	return math.RoundToEven(f*unitsPerMM)/unitsPerMM + 0
}

// orient3DErr bounds the rounding of orient3D relative to its permanent: the
// differences are exact on the grid or carry 2^-53 each, see Shewchuk (1997), o3derrboundA.
const orient3DErr = (7 + 56*0x1p-53) * 0x1p-53

// orient3D returns the sign of det(b-a, c-a, d-a): positive when d lies on the
// front side of the triangle a, b, c (counterclockwise seen from d). It is
// exact for points on the grid.
func orient3D(a, b, c, d r3.Vector) int {
	bx, by, bz := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	cx, cy, cz := c.X-a.X, c.Y-a.Y, c.Z-a.Z
	dx, dy, dz := d.X-a.X, d.Y-a.Y, d.Z-a.Z
	p, q := float64(by*cz), float64(bz*cy)
	r, s := float64(bz*cx), float64(bx*cz)
	t, u := float64(bx*cy), float64(by*cx)
	det := float64(dx*(p-q)) + float64(dy*(r-s)) + float64(dz*(t-u))
	perm := math.Abs(dx)*(math.Abs(p)+math.Abs(q)) + math.Abs(dy)*(math.Abs(r)+math.Abs(s)) + math.Abs(dz)*(math.Abs(t)+math.Abs(u))
	if bound := orient3DErr * perm; det > bound {
		return 1
	} else if det < -bound {
		return -1
	}
	if perm == 0 {
		return 0
	}
	return orient3DExact([3]float64{bx, by, bz}, [3]float64{cx, cy, cz}, [3]float64{dx, dy, dz})
}

// gridInt returns a length that is a multiple of the unit as an integer. The
// product is exact, and below 2^53 by maxCoordMM.
func gridInt(x float64) int64 { return int64(x * unitsPerMM) }

func orient3DExact(b, c, d [3]float64) int {
	var bi, ci, di [3]int64
	for k := range 3 {
		bi[k], ci[k], di[k] = gridInt(b[k]), gridInt(c[k]), gridInt(d[k])
	}
	var sum int192
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		sum.addProduct(difference(bi[i], ci[j], bi[j], ci[i]), di[k])
	}
	return sum.sign()
}

// crossInt returns the cross product of two grid vectors.
func crossInt(b, c [3]int64) (n [3]big.Int) {
	var s, t, u, v big.Int
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		s.Mul(u.SetInt64(b[i]), v.SetInt64(c[j]))
		t.Mul(u.SetInt64(b[j]), v.SetInt64(c[i]))
		n[k].Sub(&s, &t)
	}
	return n
}

// orient2DErr is Shewchuk's ccwerrboundA.
const orient2DErr = (3 + 16*0x1p-53) * 0x1p-53

// orient2D returns the sign of the turn a, b, c in the plane of axes i and j;
// exact for points on the grid.
func orient2D(a, b, c r3.Vector, i, j int) int {
	ai, aj := axis(a, i), axis(a, j)
	bi, bj := axis(b, i)-ai, axis(b, j)-aj
	ci, cj := axis(c, i)-ai, axis(c, j)-aj
	p, q := float64(bi*cj), float64(bj*ci)
	det := p - q
	if bound := orient2DErr * (math.Abs(p) + math.Abs(q)); det > bound {
		return 1
	} else if det < -bound {
		return -1
	}
	if p == 0 && q == 0 {
		return 0
	}
	return difference(gridInt(bi), gridInt(cj), gridInt(bj), gridInt(ci)).sign()
}

func axis(p r3.Vector, k int) float64 {
	switch k {
	case 0:
		return p.X
	case 1:
		return p.Y
	}
	return p.Z
}
