package solid

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Hull returns the convex hull of a few points in general position, by testing
// every triple: time goes with the fourth power of their number. All points are
// vertices of the mesh, those inside without facets.
func Hull(pts []r3.Vector) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: pts}
	for i := range pts {
		for j := i + 1; j < len(pts); j++ {
			for k := i + 1; k < len(pts); k++ {
				if j != k && allBehind(pts, i, j, k) {
					m.Facets = append(m.Facets, [3]int32{int32(i), int32(j), int32(k)})
				}
			}
		}
	}
	return m
}

// allBehind tells whether no point lies in front of the triangle of points i, j and k.
func allBehind(pts []r3.Vector, i, j, k int) bool {
	n := pts[j].Sub(pts[i]).Cross(pts[k].Sub(pts[i]))
	for l, p := range pts {
		if l != i && l != j && l != k && n.Dot(p.Sub(pts[i])) > 0 {
			return false
		}
	}
	return true
}
