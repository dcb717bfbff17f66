package loop

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// ridge holds a vertex that its facets leave free along the surface: small
// against the squares of the turn at any real edge, of unit trace.
const ridge = 1e-3

// Shift returns the vertices of m moved so that every facet goes along its
// outward normal by depthMM[f], mm; a negative depth goes into the metal. Each
// vertex meets its facets in the mean of squares, weighted by area: on smooth
// surface it moves along the normal by the mean depth, at edges and corners to
// the meeting of the moved planes.
func Shift(m *mesh.Mesh, depthMM []float64) []r3.Vector {
	in := m.Incidence()
	out := make([]r3.Vector, len(m.Vertices))
	for v := range out {
		out[v] = m.Vertices[v].Add(shiftOf(m, in.Of(int32(v)), depthMM))
	}
	return out
}

func shiftOf(m *mesh.Mesh, corners []int32, depth []float64) r3.Vector {
	var l [6]float64
	var rhs r3.Vector
	var weight, asked float64
	for _, h := range corners {
		f := int(h / 3)
		n := m.AreaNormal(f)
		w := n.Norm()
		if w == 0 {
			continue
		}
		n = n.Mul(1 / w)
		l[0] += w * n.X * n.X
		l[1] += w * n.X * n.Y
		l[2] += w * n.X * n.Z
		l[3] += w * n.Y * n.Y
		l[4] += w * n.Y * n.Z
		l[5] += w * n.Z * n.Z
		rhs = rhs.Add(n.Mul(w * depth[f]))
		weight += w
		asked += w * depth[f]
	}
	if weight == 0 {
		return r3.Vector{}
	}
	e := ridge * weight
	x := r3.Vector{X: l[0] + e, Y: l[1], Z: l[2]}
	y := r3.Vector{X: l[1], Y: l[3] + e, Z: l[4]}
	z := r3.Vector{X: l[2], Y: l[4], Z: l[5] + e}
	det := x.Dot(y.Cross(z))
	if det == 0 {
		return r3.Vector{}
	}
	d := r3.Vector{X: rhs.Dot(y.Cross(z)), Y: x.Dot(rhs.Cross(z)), Z: x.Dot(y.Cross(rhs))}.Mul(1 / det)
	// The ridge shortens the move a little: bring the mean depth back.
	var got float64
	for _, h := range corners {
		got += m.AreaNormal(int(h / 3)).Dot(d)
	}
	if got != 0 && asked/got > 0.9 && asked/got < 1.1 {
		d = d.Mul(asked / got)
	}
	return d
}
