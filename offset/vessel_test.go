package offset_test

import (
	"context"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/offset/recipe"
)

// ballIn plans a ball of radius 10 in a bath by the fast field and returns its
// capacitance and the factors at the six poles: +x -x +y -y +z -z.
func ballIn(t *testing.T, set func(b *recipe.Bath)) (capacitance float64, poles [6]float64) {
	t.Helper()
	rec := withPolarisation(t, 0)
	set(&rec.Bath)
	require.NoError(t, rec.Validate())
	ball := solid.Icosphere(10, 3)
	pl, err := offset.Plan(context.Background(), partOf(t, ball), offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}, Field: offset.FieldFast})
	require.NoError(t, err)
	for k, d := range []r3.Vector{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}} {
		var sum, area float64
		for f := range pl.Nominal.Facets {
			if pl.Nominal.FacetNormal(f).Dot(d) > 0.95 {
				sum += pl.Exposed.Field.PerFacet[f] * pl.Nominal.FacetArea(f)
				area += pl.Nominal.FacetArea(f)
			}
		}
		poles[k] = sum / area
	}
	return pl.Exposed.Field.CapacitanceMM, poles
}

// The vessel's walls are the cathode, its surface insulates: less than in the
// sphere inscribed to it, ab/(b-a) of references.md 6.3, and more than in an endless bath.
// The current comes from below and the sides.
func TestBallInAVessel(t *testing.T) {
	c, poles := ballIn(t, func(b *recipe.Bath) {
		b.FarField, b.VesselMM = recipe.FarVessel, []float64{60, 60, 60}
	})
	require.Greater(t, c, 10.0)
	require.Less(t, c, 10*30.0/(30-10))
	require.InEpsilon(t, poles[0], poles[1], 0.02)
	require.InEpsilon(t, poles[2], poles[0], 0.02)
	// The images next by, C/60^2 of the same and of the other sign, tilt the field by +-6 % at the poles.
	require.Greater(t, poles[5], poles[4]*1.1)
}

// A vessel so large that only its distance is left: the capacitance is that of an
// endless bath but for the share radius over distance, and the current is even.
func TestWideVesselIsNearlyEndless(t *testing.T) {
	c, poles := ballIn(t, func(b *recipe.Bath) {
		b.FarField, b.VesselMM = recipe.FarVessel, []float64{4000, 4000, 4000}
	})
	require.InEpsilon(t, 10, c, 0.015) // 10/2000, and facets
	for _, f := range poles {
		require.InDelta(t, 1, f, 0.02)
	}
}

// A plate draws the current to its side; two face each other alike. In a vessel
// that insulates because of them, the back of the ball gets still less than the sides.
func TestPlatesDrawTheCurrent(t *testing.T) {
	right := recipe.Cathode{AtMM: []float64{25, 0, 0}, SizeMM: []float64{2, 40, 40}}
	left := recipe.Cathode{AtMM: []float64{-25, 0, 0}, SizeMM: []float64{2, 40, 40}}
	_, one := ballIn(t, func(b *recipe.Bath) { b.Cathodes = []recipe.Cathode{right} })
	require.Greater(t, one[0], one[1]*1.2)
	require.Greater(t, one[0], one[2])
	_, two := ballIn(t, func(b *recipe.Bath) {
		b.FarField, b.VesselMM, b.Cathodes = recipe.FarVessel, []float64{100, 80, 80}, []recipe.Cathode{left, right}
	})
	require.InEpsilon(t, two[0], two[1], 0.02)
	require.Greater(t, two[0], two[2]*1.15)
	require.InEpsilon(t, two[4], two[5], 0.02) // surface and bottom insulate alike
}

// A part that does not fit between its cathodes is refused with the sizes.
func TestNoRoomInTheBath(t *testing.T) {
	for _, set := range []func(b *recipe.Bath){
		func(b *recipe.Bath) { b.FarField, b.VesselMM = recipe.FarVessel, []float64{21, 60, 60} },
		func(b *recipe.Bath) {
			b.Cathodes = []recipe.Cathode{{AtMM: []float64{10, 0, 0}, SizeMM: []float64{1, 5, 5}}}
		},
	} {
		rec := withPolarisation(t, 0)
		set(&rec.Bath)
		require.NoError(t, rec.Validate())
		_, err := offset.Plan(context.Background(), partOf(t, solid.Icosphere(10, 2)), offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}, Field: offset.FieldFast})
		require.ErrorIs(t, err, offset.ErrNoRoom)
	}
}
