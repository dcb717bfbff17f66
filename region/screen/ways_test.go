package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/part/parttest"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// bored returns a revolved body of outer radius 20 with the given profile of radii and heights inside.
func bored(inner ...solid.Ring) *mesh.Mesh {
	rings := []solid.Ring{{R: 20, Z: inner[len(inner)-1].Z}, {R: 20, Z: inner[0].Z}}
	m := solid.RevolveLoop(append(rings, inner...), 96)
	if m.Volume() < 0 {
		m = solid.Reverse(m)
	}
	return m
}

// The wall of a bore ends where its countersink begins, however blunt that is.
func TestCountersinkIsNoDepth(t *testing.T) {
	for _, deg := range []float64{30, 41, 45, 60} {
		r := 3 + 3*math.Tan(deg*math.Pi/180)
		rep := look(t, bored(solid.Ring{R: r, Z: 12}, solid.Ring{R: 3, Z: 9}, solid.Ring{R: 3, Z: 0}), screen.Options{})
		require.NotEmpty(t, rep.Bores)
		b := byDiameter(rep, 6)
		assert.InEpsilon(t, 6, b.DiameterMM, 0.01, "%g deg", deg)
		assert.InEpsilon(t, 9, b.DepthMM, 0.02, "%g deg", deg)
		assert.Equal(t, 2, b.OpenEnds)
	}
}

// Two sockets with a stop between them, a fifth narrower and shorter than wide,
// are no one bore.
func TestStopBetweenSockets(t *testing.T) {
	rep := look(t, bored(
		solid.Ring{R: 10, Z: 40}, solid.Ring{R: 10, Z: 22}, solid.Ring{R: 7.8, Z: 22},
		solid.Ring{R: 7.8, Z: 18}, solid.Ring{R: 10, Z: 18}, solid.Ring{R: 10, Z: 0},
	), screen.Options{})
	require.Len(t, rep.Bores, 3)
	for _, b := range rep.Bores {
		if b.DiameterMM > 18 {
			assert.InEpsilon(t, 18, b.DepthMM, 0.02)
		} else {
			assert.InEpsilon(t, 15.6, b.DiameterMM, 0.01)
			assert.InEpsilon(t, 4, b.DepthMM, 0.02)
		}
		assert.Equal(t, 2, b.OpenEnds)
	}
}

// A slot in the floor of a pocket, itself 5 / 10 widths deep, is reached a
// diameter deep from its free end, and half a diameter from the pocket.
func TestSlotInPocket(t *testing.T) {
	m := cut(t, solid.Box(r3.Vector{X: -30, Y: -20}, r3.Vector{X: 30, Y: 20, Z: 20}),
		solid.Box(r3.Vector{X: -12, Y: -5, Z: 15}, r3.Vector{X: 12, Y: 5, Z: 30}),
		solid.Shift(obround(4, 10, 30, 16), r3.Vector{Z: -5}))
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Slots, 2)
	narrow, wide := rep.Slots[0], rep.Slots[1]
	if narrow.WidthMM > wide.WidthMM {
		narrow, wide = wide, narrow
	}
	require.InEpsilon(t, 4, narrow.WidthMM, 0.01)
	require.InEpsilon(t, 10, wide.WidthMM, 0.01)
	assert.InEpsilon(t, 15, narrow.DepthMM, 0.02)
	assert.InDelta(t, 4+4*(1-0.5), narrow.Reach.LimitMM, 0.1)
	assert.InEpsilon(t, 5, wide.Reach.LimitMM, 0.02)
	assert.Equal(t, 2, narrow.OpenEnds)
	assert.Equal(t, 2, wide.OpenEnds)
}

// So is a bore in the floor of a square pocket.
func TestBoreInSquarePocket(t *testing.T) {
	m := cut(t, solid.Box(r3.Vector{X: -30, Y: -20}, r3.Vector{X: 30, Y: 20, Z: 20}),
		solid.Box(r3.Vector{X: -5, Y: -5, Z: 12}, r3.Vector{X: 5, Y: 5, Z: 30}),
		solid.Shift(solid.Cylinder(3, 40, 64), r3.Vector{Z: -5}))
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 1)
	b := rep.Bores[0]
	assert.InEpsilon(t, 12, b.DepthMM, 0.02)
	assert.InDelta(t, 6+6*(1-0.8), b.Reach.LimitMM, 0.15)
	assert.Equal(t, 2, b.OpenEnds)
}

// Frames that hang in each other have openings, but nothing was bored.
func TestLinksAreNoBores(t *testing.T) {
	rep := look(t, parttest.Shared(t, "chain-40-links.stl").Mesh, screen.Options{})
	assert.Empty(t, rep.Bores)
	assert.Empty(t, rep.Slots)
}
