package solid

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Box returns the axis-parallel box between two corners: 8 vertices, 12 facets.
func Box(lo, hi r3.Vector) *mesh.Mesh {
	v := make([]r3.Vector, 8)
	for i := range v {
		v[i] = lo
		if i&1 != 0 {
			v[i].X = hi.X
		}
		if i&2 != 0 {
			v[i].Y = hi.Y
		}
		if i&4 != 0 {
			v[i].Z = hi.Z
		}
	}
	return &mesh.Mesh{Vertices: v, Facets: [][3]int32{
		{0, 2, 3}, {0, 3, 1}, // low z
		{4, 5, 7}, {4, 7, 6}, // high z
		{0, 1, 5}, {0, 5, 4}, // low y
		{2, 6, 7}, {2, 7, 3}, // high y
		{0, 4, 6}, {0, 6, 2}, // low x
		{1, 3, 7}, {1, 7, 5}, // high x
	}}
}

// Tetrahedron returns the tetrahedron of four corners, turned outside out whatever their order.
func Tetrahedron(a, b, c, d r3.Vector) *mesh.Mesh {
	m := &mesh.Mesh{
		Vertices: []r3.Vector{a, b, c, d},
		Facets:   [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}},
	}
	if m.Volume() < 0 {
		m.Vertices[0], m.Vertices[1] = b, a
	}
	return m
}

// Extrude returns the prism of height h over a counterclockwise polygon in the
// plane z = 0 that is star-shaped seen from the point centre.
func Extrude(polygon []r3.Vector, centre r3.Vector, h float64) *mesh.Mesh {
	n := int32(len(polygon))
	m := &mesh.Mesh{}
	for _, z := range []float64{0, h} {
		for _, p := range polygon {
			m.Vertices = append(m.Vertices, r3.Vector{X: p.X, Y: p.Y, Z: z})
		}
	}
	m.Vertices = append(m.Vertices, r3.Vector{X: centre.X, Y: centre.Y}, r3.Vector{X: centre.X, Y: centre.Y, Z: h})
	for i := range n {
		j := (i + 1) % n
		m.Facets = append(m.Facets,
			[3]int32{i, j, n + j}, [3]int32{i, n + j, n + i},
			[3]int32{2 * n, j, i}, [3]int32{2*n + 1, n + i, n + j})
	}
	return m
}
