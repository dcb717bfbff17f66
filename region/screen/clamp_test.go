package screen

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

// The mark is the contact's circle, and its finding says where the diameter comes from.
func TestContactDiameter(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 40, Z: 5})
	for origin, mm := range map[string]float64{"": 4, "measured": 6} {
		rep, err := Screen(context.Background(), m, nil, nil, Options{Limits: Limits{ContactMM: mm, Origins: Origins{Contact: origin}}})
		require.NoError(t, err)
		require.NotEmpty(t, rep.Clamps)
		require.InDelta(t, math.Pi/4*mm*mm, rep.Clamps[0].MarkMM2, 1e-9)
		for _, f := range rep.Findings {
			if f.Code == "clamp_spot" {
				require.Contains(t, f.Message, "("+assumed(origin)+")")
			}
		}
	}
	// No contact is larger than the faces are.
	rep, err := Screen(context.Background(), solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 4, Z: 4}), nil, nil, Options{Limits: Limits{ContactMM: 6}})
	require.NoError(t, err)
	require.Empty(t, rep.Clamps)
}
