package screen_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"

	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// The same part weighs differently for each purpose: a through hole of which
// the bath reaches two thirds, in a tube of sharp edges.
func TestPurposesWeigh(t *testing.T) {
	tube := solid.Tube(10, 3, 18, 64)
	for purpose, want := range map[screen.Purpose]screen.Verdict{
		screen.General: screen.WithChange, screen.Fatigue: screen.NotSuited, screen.Flow: screen.NotSuited, screen.Penetrant: screen.NotSuited,
		screen.Coating: screen.WithChange, screen.Size: screen.WithChange,
	} {
		assert.Equal(t, want, look(t, tube, screen.Options{Purpose: purpose}).Verdict, purpose)
	}
	// Nobody sees into the hole; the mark of the contact is seen.
	rep := look(t, tube, screen.Options{Purpose: screen.Appearance})
	assert.Equal(t, screen.WithChange, rep.Verdict)
	for _, r := range rep.Reasons {
		assert.Equal(t, "clamp_spot", r.Code)
	}
}

// A slight case weighs one step more for a purpose, not two: a pocket of which
// the bath's rule leaves a twentieth, but its field nothing.
func TestSlightCases(t *testing.T) {
	opt := screen.Options{Limits: screen.Limits{PolarisationMM: 1000}}
	m := blindPart(3, 6.3)
	assert.Equal(t, screen.Suited, look(t, m, opt).Verdict)
	opt.Purpose = screen.Flow
	assert.Equal(t, screen.WithChange, look(t, m, opt).Verdict)
}

// A verdict always has its reasons, weightiest first, each with what to change.
func TestReasons(t *testing.T) {
	thin := solid.Merge(blindPart(3, 18), solid.Box(r3.Vector{X: 20}, r3.Vector{X: 20.2, Y: 20, Z: 20}))
	rep := look(t, thin, screen.Options{BathUp: r3.Vector{Z: 1}})
	assert.Equal(t, screen.NotSuited, rep.Verdict)
	for i, r := range rep.Reasons {
		assert.NotEmpty(t, r.Change, r.Code)
		if i > 0 {
			assert.LessOrEqual(t, r.Weight, rep.Reasons[i-1].Weight)
		}
	}
	assert.Equal(t, "thin_wall", rep.Reasons[0].Code)
	assert.Contains(t, codes(rep.Findings), "liquid_trap")
}
