package sheet

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/report/render"
)

// plane is a cut with its picture's axes: u to the right, v up, seen from the
// side that the normal points to.
type plane struct {
	at, normal r3.Vector
	u, v       r3.Vector
}

// newPlane returns the plane through a point, with the up vector upright where it can be.
func newPlane(at, normal, up r3.Vector) plane {
	c := render.LookFrom(normal, up)
	return plane{at: at, normal: c.Toward, u: c.Right, v: c.Up}
}

// flat returns the place of a point in the plane, mm.
func (p plane) flat(q r3.Vector) point { return point{q.Dot(p.u), q.Dot(p.v)} }

// meets tells whether cut finds an outline.
func (p plane) meets(m *mesh.Mesh) bool {
	d0 := p.at.Dot(p.normal)
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		up := a.Dot(p.normal)-d0 >= 0
		if up != (b.Dot(p.normal)-d0 >= 0) || up != (c.Dot(p.normal)-d0 >= 0) {
			return true
		}
	}
	return false
}

// outline is a run of points in a plane, mm, with the metal to its left. of[i]
// is the facet between points i and i+1.
type outline struct {
	points []point
	of     []int32
	closed bool
}

// cut returns the outlines of a mesh in a plane, in facet order. A vertex in
// the plane counts as in front of it, so that every facet is cut at two sides
// or not at all and closed meshes give closed outlines.
func cut(m *mesh.Mesh, p plane) []outline {
	dist := make([]float64, len(m.Vertices))
	d0 := p.at.Dot(p.normal)
	for i, v := range m.Vertices {
		dist[i] = v.Dot(p.normal) - d0
	}
	type piece struct {
		from, to side2
		facet    int32
		used     bool
	}
	var pieces []piece
	starts := map[side2][]int32{} // pieces by the side they start at; looked up, never ranged over
	for f, t := range m.Facets {
		var in, out side2
		n := 0
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			switch up, next := dist[a] >= 0, dist[b] >= 0; {
			case up && !next:
				out, n = sideOf(a, b), n+1
			case !up && next:
				in, n = sideOf(a, b), n+1
			}
		}
		if n != 2 {
			continue
		}
		// Seen from the front, a facet has the metal to the left when it is
		// walked from the side that goes down through the plane to the one
		// that comes up.
		starts[out] = append(starts[out], int32(len(pieces)))
		pieces = append(pieces, piece{from: out, to: in, facet: int32(f)})
	}
	at := func(s side2) point {
		a, b := m.Vertices[s[0]], m.Vertices[s[1]]
		da, db := dist[s[0]], dist[s[1]]
		return p.flat(a.Add(b.Sub(a).Mul(da / (da - db))))
	}
	var outs []outline
	for i := range pieces {
		if pieces[i].used {
			continue
		}
		o := outline{points: []point{at(pieces[i].from)}}
		for k := int32(i); k >= 0; {
			q := &pieces[k]
			q.used = true
			o.points = append(o.points, at(q.to))
			o.of = append(o.of, q.facet)
			k = -1
			for _, c := range starts[q.to] {
				if !pieces[c].used {
					k = c
					break
				}
			}
			if k < 0 {
				o.closed = q.to == pieces[i].from
			}
		}
		outs = append(outs, o)
	}
	return outs
}

// side2 is a side of a facet by its vertices, the lower number first.
type side2 [2]int32

func sideOf(a, b int32) side2 { return side2{min(a, b), max(a, b)} }
