package removal_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
	"skinstock/region"
)

// Peaks and valleys by what a recipe gives of Ra 28 um: of Rz, peaks and valleys any
// two give the third, Rz stands at 5 Ra where it is left out, and 0.6 of it are peaks
// where neither is given. Peaks are the stand-off.
func TestHeightsGivenInPart(t *testing.T) {
	const downRa = "ra_um: {value: 28,"
	for _, c := range []struct {
		given      string
		rz, rp, rv float64
	}{
		{"", 140, 84, 56},
		{"rz_um: 160, ", 160, 96, 64},
		{"rp_um: 90, ", 140, 90, 50},
		{"rv_um: 70, ", 140, 70, 70},
		{"rz_um: 160, rp_um: 90, ", 160, 90, 70},
		{"rz_um: 160, rv_um: 60, ", 160, 100, 60},
		{"rp_um: 90, rv_um: 70, ", 160, 90, 70},
		{"rz_um: 160, rp_um: 90, rv_um: 70, ", 160, 90, 70},
	} {
		given := strings.ReplaceAll(c.given, ", ", "\n      ")
		down := skinOf(t, plan(t, load(t, downRa, given+downRa), removal.Options{}), region.Downskin)
		require.InDelta(t, c.rz, down.RzUM, 1e-9, c.given)
		require.InDelta(t, c.rp, down.RpUM, 1e-9, c.given)
		require.InDelta(t, c.rv, down.RvUM, 1e-9, c.given)
		require.InDelta(t, c.rp, down.StandOffUM, 1e-9, c.given)
		require.InDelta(t, c.rv, down.ClearUM, 1e-9, c.given)
	}
}
