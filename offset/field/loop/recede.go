package loop

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/sym3"
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
	var l sym3.Matrix
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
		l.Add(n, w)
		rhs = rhs.Add(n.Mul(w * depth[f]))
		weight += w
		asked += w * depth[f]
	}
	if weight == 0 {
		return r3.Vector{}
	}
	d := l.Solve(ridge*weight, rhs)
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
