package filetest

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// WavySheet returns an open sheet of 2*n*n facets whose coordinates have all
// their digits.
func WavySheet(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			x, y := float64(i)*0.37, float64(j)*0.41
			m.Vertices = append(m.Vertices, r3.Vector{X: x, Y: y, Z: math.Sin(x) * math.Cos(y)})
		}
	}
	at := func(i, j int) int32 { return int32(i*(n+1) + j) }
	for i := range n {
		for j := range n {
			m.Facets = append(m.Facets, [3]int32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]int32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}
