package screen

import (
	"context"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

// A cup of 20 mm across inside, 10 mm deep, holds liquid upright, gas upside
// down, and on its side neither beyond what its round wall dips.
func TestPocketsByDirection(t *testing.T) {
	cup := solid.Revolve([]solid.Ring{{R: 0, Z: 0}, {R: 12, Z: 0}, {R: 12, Z: 12}, {R: 10, Z: 12}, {R: 10, Z: 2}, {R: 0, Z: 2}}, 96)
	ups := []r3.Vector{{Z: 1}, {Z: -2}}
	got, err := Pockets(context.Background(), cup, cup.Topology(), ups, Options{})
	require.NoError(t, err)
	require.Len(t, got, 2)
	// A 96-gon of radius 10 (references.md 7.5), 10 mm deep.
	const volume = 3.1393502030 * 100 * 10
	for i, kind := range []PocketKind{LiquidTrap, GasPocket} {
		require.Len(t, got[i], 1)
		require.Equal(t, kind, got[i][0].Kind)
		require.InDelta(t, 10, got[i][0].DepthMM, 1e-9)
		require.InEpsilon(t, volume, got[i][0].VolumeMM3, 1e-9)
	}
	_, err = Pockets(context.Background(), cup, nil, []r3.Vector{{}}, Options{})
	require.NoError(t, err, "no direction, nothing held")
}
