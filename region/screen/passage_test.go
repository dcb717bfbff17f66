package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// A square channel through an elbow is no bore and no slot. Its skin beyond one
// width from each end is what the bath does not reach: the perimeter times the
// length of the centre line less two widths; ways over the surface are found
// from cell to cell, 10 %.
func TestSquareElbow(t *testing.T) {
	const side = 5.0
	m := elbow(8, side/math.Sqrt2, 25, 15, 4, 24)
	require.True(t, m.Topology().Closed())
	rep := look(t, m, screen.Options{})
	assert.Empty(t, rep.Bores)
	assert.Empty(t, rep.Slots)
	require.Len(t, rep.Passages, 1)
	q := rep.Passages[0]
	length := 30 + 25*math.Pi/2
	assert.InEpsilon(t, 4*side*(length-2*side), q.UnreachedMM2, 0.1)
	assert.InEpsilon(t, side, q.MinMM, 0.1)
	assert.InEpsilon(t, length/2, q.WayMM, 0.15)
	assert.InEpsilon(t, length/2/side, q.Widths, 0.15)
	assert.Contains(t, codes(rep.Findings), "channel_unreached")
}

// Convex bodies, and round holes that are told as such, have no passages.
func TestNoPassages(t *testing.T) {
	assert.Empty(t, look(t, solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), screen.Options{}).Passages)
	assert.Empty(t, look(t, solid.Icosphere(10, 4), screen.Options{}).Passages)
	assert.Empty(t, look(t, solid.Tube(10, 3, 20, 64), screen.Options{}).Passages)
	assert.Empty(t, look(t, blindPart(3, 18), screen.Options{}).Passages)
	assert.Empty(t, look(t, elbow(8, 4, 25, 10, 40, 18), screen.Options{}).Passages)
}
