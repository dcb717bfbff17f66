package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// obround returns the prism over an obround of the given width and overall
// length, long in x, from z = 0 to h, centred on the axis.
func obround(width, length, h float64, sides int) *mesh.Mesh {
	var poly []r3.Vector
	r := width / 2
	for k := range sides + 1 {
		s, c := math.Sincos(math.Pi * (float64(k)/float64(sides) - 0.5))
		poly = append(poly, r3.Vector{X: length/2 - r + r*c, Y: r * s})
	}
	for k := range sides + 1 {
		s, c := math.Sincos(math.Pi * (float64(k)/float64(sides) + 0.5))
		poly = append(poly, r3.Vector{X: -length/2 + r + r*c, Y: r * s})
	}
	return solid.Extrude(poly, r3.Vector{}, h)
}

// Slots of many kinds in a block: width and depth are those of plane walls,
// which rays measure but for rounding; the mouth is found by halving steps.
// 1 % for both, and the direction to half a degree.
func TestSlotGauge(t *testing.T) {
	block := func() *mesh.Mesh { return solid.Box(r3.Vector{X: -30, Y: -20, Z: -15}, r3.Vector{X: 30, Y: 20, Z: 15}) }
	oblong := func(x, y, z0, z1 float64) *mesh.Mesh {
		return solid.Box(r3.Vector{X: -x / 2, Y: -y / 2, Z: z0}, r3.Vector{X: x / 2, Y: y / 2, Z: z1})
	}
	for _, c := range []struct {
		name                 string
		tool                 *mesh.Mesh
		width, depth, length float64
		ends                 int
	}{
		{"obround through", solid.Shift(obround(4, 18, 60, 16), r3.Vector{Z: -30}), 4, 30, 18, 2},
		{"obround blind", solid.Shift(obround(4, 18, 60, 16), r3.Vector{Z: 3}), 4, 12, 18, 1},
		{"short obround", solid.Shift(obround(6, 10, 60, 12), r3.Vector{Z: 5}), 6, 10, 10, 1},
		{"square through", oblong(8, 8, -20, 20), 8, 30, 8, 2},
		{"oblong blind", oblong(20, 3, 2, 20), 3, 13, 20, 1},
		{"trench along the block", oblong(100, 5, 5, 20), 5, 10, 60, 1},
		{"saw cut through", oblong(100, 1.5, -20, 10), 1.5, 25, 60, 1},
	} {
		m := cut(t, block(), c.tool)
		dir := r3.Vector{X: 0.3, Y: -0.5, Z: 0.8}.Normalize()
		rep := look(t, along(m, dir, r3.Vector{X: 5, Y: -3, Z: 11}, 0.4), screen.Options{})
		assert.Empty(t, rep.Bores, c.name)
		require.Len(t, rep.Slots, 1, c.name)
		s := rep.Slots[0]
		assert.InEpsilon(t, c.width, s.WidthMM, 0.01, c.name)
		assert.InEpsilon(t, c.depth, s.DepthMM, 0.01, c.name)
		assert.InEpsilon(t, c.length, s.LengthMM, 0.01, c.name)
		assert.Equal(t, c.ends, s.OpenEnds, c.name)
		assert.InDelta(t, 1, math.Abs(s.Axis.Dot(dir)), 4e-5, c.name)
	}
}
