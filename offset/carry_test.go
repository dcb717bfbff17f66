package offset_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/offset"
)

// A field that is linear in space is carried over exactly, to rounding, where
// the grown part has the facets of the nominal one, and to the move's length
// times the slope where its facets are pieces.
func TestFieldAtGrown(t *testing.T) {
	nominal := solid.Icosphere(10, 3)
	slope := r3.Vector{X: 1, Y: -2, Z: 0.5}
	field := make(mesh.CornerField, len(nominal.Facets))
	for f, tri := range nominal.Facets {
		for k, v := range tri {
			field[f][k] = slope.Dot(nominal.Vertices[v])
		}
	}
	const move = 0.1
	moved := make([]r3.Vector, len(nominal.Vertices))
	for i, v := range nominal.Vertices {
		moved[i] = v.Mul(1 + move/10)
	}
	res := &offset.Result{Planned: &offset.Planned{Nominal: nominal}, Grown: nominal.WithVertices(moved)}
	for i, x := range res.AtGrown(field) {
		require.InDelta(t, slope.Dot(nominal.Vertices[i]), x, 1e-12)
	}

	// The same facets in reverse order, as pieces: the nearest place is the vertex itself.
	n := len(nominal.Facets)
	pieces := &mesh.Mesh{Vertices: moved}
	for f := n - 1; f >= 0; f-- {
		pieces.Facets = append(pieces.Facets, nominal.Facets[f])
		res.NominalOf = append(res.NominalOf, int32(f))
	}
	res.Grown = pieces
	for i, x := range res.AtGrown(field) {
		require.InDelta(t, slope.Dot(nominal.Vertices[i]), x, move*slope.Norm())
		require.False(t, math.IsNaN(x))
	}

	// A vertex of a piece inside a facet takes the value between its corners.
	a, b, c := nominal.Triangle(0)
	mid := a.Add(b).Add(c).Mul(1. / 3)
	res.Grown = &mesh.Mesh{Vertices: []r3.Vector{mid, b, c}, Facets: [][3]int32{{0, 1, 2}}}
	res.NominalOf = []int32{0}
	require.InDelta(t, slope.Dot(mid), res.AtGrown(field)[0], 1e-9)
}
