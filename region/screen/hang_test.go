package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// A cup upright keeps electrolyte, upside down gas; lying it keeps neither, and
// that is what the search finds.
func TestHangingSearch(t *testing.T) {
	m := blindPart(8, 18)
	rep := look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}})
	assert.Greater(t, rep.Hanging.LiquidMM3, 3000.0)
	assert.Equal(t, 1, rep.Hanging.Tried)
	rep = look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}, SearchHanging: true})
	assert.Empty(t, rep.Pockets)
	assert.Zero(t, rep.Hanging.GasMM3+rep.Hanging.LiquidMM3)
	assert.Greater(t, rep.Hanging.Tried, 90)
	// A blind hole of flat floor keeps liquid until its axis lies level or points down.
	assert.InDelta(t, 0, rep.Hanging.Up.Z, 0.1)
}

// A rod of 100 mm does not fit a bath 80 mm long and wide and 40 mm deep
// upright or along its sides, but along its diagonal: 113 mm less clearance.
func TestEnvelope(t *testing.T) {
	rod := solid.Cylinder(2, 100, 24)
	bath := screen.Bath{SizeMM: [3]float64{80, 80, 40}, ClearanceMM: 1}
	rep := look(t, rod, screen.Options{BathUp: r3.Vector{Z: 1}, Bath: bath})
	assert.InDelta(t, 100, rep.Hanging.SizeMM[2], 1e-9)
	assert.InDelta(t, 38-100, rep.Hanging.SpareMM, 1e-9)
	// It is told to hang another way, which fits.
	assert.Equal(t, finding.Warning, codes(rep.Findings)["too_large"])
	assert.Equal(t, screen.WithChange, rep.Verdict)
	rep = look(t, rod, screen.Options{BathUp: rep.Hanging.Fits, Bath: bath})
	assert.NotContains(t, codes(rep.Findings), "too_large")

	rep = look(t, rod, screen.Options{BathUp: r3.Vector{X: 1}, Bath: bath})
	assert.NotContains(t, codes(rep.Findings), "too_large")
	// 100 sin 45 + 4 cos 45 along each side.
	assert.InDelta(t, 78-104/math.Sqrt2, rep.Hanging.SpareMM, 0.1)

	rep = look(t, rod, screen.Options{BathUp: r3.Vector{Z: 1}, Bath: bath, SearchHanging: true})
	assert.NotContains(t, codes(rep.Findings), "too_large")
	assert.GreaterOrEqual(t, rep.Hanging.SpareMM, 0.0)
}

// The allowance counts for the envelope.
func TestEnvelopeOfGrownPart(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: 20, Z: 10})
	grow := make(mesh.CornerField, len(m.Facets))
	for f := range grow {
		grow[f] = [3]float64{0.2, 0.2, 0.2}
	}
	rep := look(t, m, screen.Options{BathUp: r3.Vector{Z: 1}, AllowanceMM: grow, Bath: screen.Bath{SizeMM: [3]float64{40, 40, 40}, ClearanceMM: 5}})
	assert.InDelta(t, 10.4, rep.Hanging.SizeMM[2], 1e-9)
	assert.InDelta(t, 30-30.4, -2*5+40-rep.Hanging.SizeMM[0], 0.5)
}

// A rod too tall for the bath fits lying down, and a longer one in no way.
func TestOtherWayFits(t *testing.T) {
	bath := screen.Bath{SizeMM: [3]float64{80, 40, 40}, ClearanceMM: 2}
	rod := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 60})
	rep := look(t, rod, screen.Options{BathUp: r3.Vector{Z: 1}, Bath: bath})
	assert.InDelta(t, 36-60, rep.Hanging.SpareMM, 1e-9)
	assert.InDelta(t, 0, rep.Hanging.Fits.Z, 1e-9)
	assert.Equal(t, finding.Warning, codes(rep.Findings)["too_large"])
	assert.Equal(t, screen.WithChange, rep.Verdict)
	up := rep.Hanging.Fits
	rep = look(t, rod, screen.Options{BathUp: up, Bath: bath})
	assert.GreaterOrEqual(t, rep.Hanging.SpareMM, 0.0)

	rep = look(t, solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 100}), screen.Options{BathUp: r3.Vector{Z: 1}, Bath: bath})
	assert.Zero(t, rep.Hanging.Fits)
	assert.Equal(t, finding.Error, codes(rep.Findings)["too_large"])
	assert.Equal(t, screen.NotSuited, rep.Verdict)
}

// The contact sits in the middle of the largest face; a keep zone over it moves it away.
func TestClampSpot(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 30, Z: 10})
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Clamps, 3)
	c := rep.Clamps[0]
	assert.InDelta(t, 30, c.RoomMM, 2) // samples stand about 0.3 mm apart
	assert.InDelta(t, 10, c.BehindMM, 1e-9)
	assert.InDelta(t, 1, math.Abs(c.Normal.Z), 1e-9)
	assert.Equal(t, finding.Info, codes(rep.Findings)["clamp_spot"])

	kept := make([]bool, len(m.Facets))
	for f := range kept {
		kept[f] = math.Abs(m.AreaNormal(f).Z) > 1
	}
	rep = look(t, m, screen.Options{Kept: kept})
	require.NotEmpty(t, rep.Clamps)
	for _, c := range rep.Clamps {
		assert.InDelta(t, 0, c.Normal.Z, 1e-9)
		assert.InDelta(t, 10, c.RoomMM, 1)
	}
	for f := range kept {
		kept[f] = true
	}
	rep = look(t, m, screen.Options{Kept: kept})
	assert.Empty(t, rep.Clamps)
	assert.Equal(t, finding.Warning, codes(rep.Findings)["clamp_spot"])

	// Where the field is known, the place that gets least current is best.
	low := make([]float64, len(m.Facets))
	for f := range low {
		low[f] = 1.2
		if m.AreaNormal(f).X < -1 {
			low[f] = 0.4
		}
	}
	rep = look(t, m, screen.Options{Exposure: low})
	assert.InDelta(t, -1, rep.Clamps[0].Normal.X, 1e-9)
}
