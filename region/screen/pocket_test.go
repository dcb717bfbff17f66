package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// A cup of 48 sides holds the prism over its floor: (n/2) sin(2 pi/n) r2 h.
// Upright it traps liquid, upside down gas, lying on its side neither.
func TestCup(t *testing.T) {
	cup := solid.Revolve([]solid.Ring{{R: 0, Z: 0}, {R: 10, Z: 0}, {R: 10, Z: 30}, {R: 8, Z: 30}, {R: 8, Z: 6}, {R: 0, Z: 6}}, 48)
	want := 24 * math.Sin(2*math.Pi/48) * 64 * 24
	rep := look(t, cup, screen.Options{BathUp: r3.Vector{Z: 1}})
	require.Len(t, rep.Pockets, 1)
	require.Equal(t, screen.LiquidTrap, rep.Pockets[0].Kind)
	require.InEpsilon(t, want, rep.Pockets[0].VolumeMM3, 1e-9)
	require.InDelta(t, 24, rep.Pockets[0].DepthMM, 1e-9)

	rep = look(t, cup, screen.Options{BathUp: r3.Vector{Z: -1}})
	require.Len(t, rep.Pockets, 1)
	require.Equal(t, screen.GasPocket, rep.Pockets[0].Kind)
	require.InEpsilon(t, want, rep.Pockets[0].VolumeMM3, 1e-9)

	require.Empty(t, look(t, cup, screen.Options{BathUp: r3.Vector{X: 1}}).Pockets)
}

// A cup tilted by an angle a holds liquid up to the lowest point of its rim:
// pi r2 (h - r tan a) as long as the floor stays covered. 96 sides leave 0.1 %.
func TestTiltedCup(t *testing.T) {
	const r, h = 5.0, 20.0
	cup := solid.Revolve([]solid.Ring{{R: 0, Z: 0}, {R: 8, Z: 0}, {R: 8, Z: 24}, {R: r, Z: 24}, {R: r, Z: 4}, {R: 0, Z: 4}}, 96)
	for _, deg := range []float64{10, 30, 60} {
		a := s1.Angle(deg) * s1.Degree
		up := r3.Vector{X: math.Sin(a.Radians()), Z: math.Cos(a.Radians())}
		rep := look(t, cup, screen.Options{BathUp: up})
		require.Len(t, rep.Pockets, 1, "%g deg", deg)
		require.InEpsilon(t, math.Pi*r*r*(h-r*math.Tan(a.Radians())), rep.Pockets[0].VolumeMM3, 0.003, "%g deg", deg)
	}
}

// A ring much lower than wide is found too; its wall stands within many other facets.
func TestLowRing(t *testing.T) {
	rep := look(t, solid.Tube(14, 10, 3, 48), screen.Options{})
	require.Len(t, rep.Bores, 1)
	require.InEpsilon(t, 20, rep.Bores[0].DiameterMM, 1e-4)
	require.InEpsilon(t, 3, rep.Bores[0].DepthMM, 0.02)
}
