package solid

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// LanderBracket is the demo part: a bracket that ties one leg of a deep-sea
// sampling lander to its frame. Two bosses with 10 mm bores take the frame
// bolts, an 8 mm eye takes the leg, and blended struts carry the load between
// them as a topology optimiser would lay them. It stands about 62 mm high on
// z = 0 and is built along +z. The cell in mm sets the mesh: 1.29 gives about
// 50,000 facets.
func LanderBracket(cell float64) *mesh.Mesh {
	v := func(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }
	left, right, eye := v(-30, 0, 10), v(30, 0, 10), v(0, 0, 54)
	y := func(p r3.Vector, d float64) r3.Vector { return p.Add(v(0, d, 0)) }

	const rim = 1.5
	bosses := Union(
		RoundRod(y(left, -9), y(left, 9), 10, rim), RoundRod(y(right, -9), y(right, 9), 10, rim), RoundRod(y(eye, -6), y(eye, 6), 8, rim),
	)
	struts := Blend(
		5,
		Strut(y(left, -6), y(eye, -3), 3.6, 2.6), Strut(y(left, 6), y(eye, 3), 3.6, 2.6),
		Strut(y(right, -6), y(eye, -3), 3.6, 2.6), Strut(y(right, 6), y(eye, 3), 3.6, 2.6),
		Strut(y(left, 0), y(right, 0), 3.4, 3.4),
		Strut(v(-14, -5, 32), v(14, 5, 32), 2.2, 2.2), Strut(v(-14, 5, 32), v(14, -5, 32), 2.2, 2.2),
		Strut(v(0, 0, 10), v(-14, 0, 31), 2.4, 2.2), Strut(v(0, 0, 10), v(14, 0, 31), 2.4, 2.2),
	)
	bores := Union(Rod(y(left, -20), y(left, 20), 5), Rod(y(right, -20), y(right, 20), 5), Rod(y(eye, -20), y(eye, 20), 4))
	return Implicit(BlendCut(2, Blend(4, struts, bosses), bores), v(-41, -10, 0), v(41, 10, 63), cell)
}

// SmoothBracket is a smooth organic body without sharp edges about 90 mm wide:
// the benchmarks' bracket. A cell of 0.77 mm gives about 100,000 facets.
func SmoothBracket(cell float64) *mesh.Mesh {
	v := func(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }
	ring := func(c r3.Vector) Body {
		return func(p r3.Vector) float64 {
			q := p.Sub(c)
			return math.Hypot(math.Hypot(q.X, q.Z)-9, q.Y) - 3.5
		}
	}
	b := Blend(6, ring(v(-34, 0, 0)), ring(v(34, 0, 0)), ring(v(0, 0, 40)),
		Strut(v(-27, 0, 6), v(-5, 0, 32), 3, 4), Strut(v(27, 0, 6), v(5, 0, 32), 3, 4),
		Strut(v(-24, 0, 0), v(24, 0, 0), 4, 4), Strut(v(0, 0, 0), v(0, 0, 30), 3, 3))
	return Implicit(b, v(-52, -9, -18), v(52, 9, 58), cell)
}

// GyroidCube is a sheet gyroid of period 12 mm and 1.8 mm wall cut flat to a
// cube of 24 mm: the benchmarks' hard part. A cell of 0.78 mm gives about
// 100,000 facets.
func GyroidCube(cell float64) *mesh.Mesh {
	h := r3.Vector{X: 12, Y: 12, Z: 12}
	return Implicit(GyroidSheet(12, 1.8), h.Mul(-1), h, cell)
}

// LatticeCube is a body-centred strut lattice of 8 mm cubes with 1.2 mm struts
// cut flat to a cube of 24 mm. A cell of 0.63 mm gives about 100,000 facets.
func LatticeCube(cell float64) *mesh.Mesh {
	h := r3.Vector{X: 12, Y: 12, Z: 12}
	return Implicit(StrutLattice(8, 0.6), h.Mul(-1), h, cell)
}
