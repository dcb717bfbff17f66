package offset

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// facetsApart tells whether a plane with d mm of room on its two sides together
// lies between facets f and g of m. It looks along the normals of the facets
// and of their edges, and across pairs of edges; true is certain, false is not.
func facetsApart(m *mesh.Mesh, f, g int, d float64) bool {
	var p, q, along, beside [3]r3.Vector
	p[0], p[1], p[2] = m.Triangle(f)
	q[0], q[1], q[2] = m.Triangle(g)
	edges := func(t [3]r3.Vector, e *[3]r3.Vector) (normal r3.Vector) {
		for k := range 3 {
			e[k] = t[(k+1)%3].Sub(t[k])
		}
		return e[0].Cross(e[1])
	}
	n, o := edges(p, &along), edges(q, &beside)
	if between(p, q, n) > d || between(p, q, o) > d {
		return true
	}
	for k := range 3 {
		if between(p, q, along[k].Cross(n)) > d || between(p, q, beside[k].Cross(o)) > d {
			return true
		}
		for _, e := range beside {
			if between(p, q, along[k].Cross(e)) > d {
				return true
			}
		}
	}
	return false
}

// between returns the room between two triangles along an axis of any length, negative where they overlap.
func between(p, q [3]r3.Vector, axis r3.Vector) float64 {
	u := axis.Normalize()
	pl, ph := span(p, u)
	ql, qh := span(q, u)
	return max(ql-ph, pl-qh)
}

// span returns the least and the greatest of the corners' places along u.
func span(t [3]r3.Vector, u r3.Vector) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range t {
		x := u.Dot(p)
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}
