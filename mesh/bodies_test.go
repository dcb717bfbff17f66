package mesh_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

func TestBodies(t *testing.T) {
	at := func(x float64) r3.Vector { return r3.Vector{X: x} }
	hollow := solid.Reverse(solid.Icosphere(3, 1)) // 80 facets, in the first body
	inner := solid.Icosphere(1, 1)                 // metal inside the hollow
	outer := solid.Icosphere(5, 1)
	beside := solid.Shift(solid.Icosphere(1, 1), at(20))
	m := solid.Merge(hollow, beside, inner, outer)
	of, n := m.Bodies(m.Topology())
	require.Equal(t, 3, n)
	for f, want := range map[int]int32{0: 0, 80: 1, 160: 2, 240: 0, 319: 0} {
		require.Equal(t, want, of[f], "facet %d", f)
	}
}
