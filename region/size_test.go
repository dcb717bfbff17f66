package region

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

func TestSizesOfTube(t *testing.T) {
	m := solid.Tube(5, 3, 20, 48)
	sizes := mustSize(t, m)
	require.Equal(t, 2, len(sizes))
	require.Equal(t, BoreSize, sizes[0].Kind)
	require.InDelta(t, 6, sizes[0].MM, 1e-9)
	require.Equal(t, WidthSize, sizes[1].Kind)
	require.InDelta(t, 20, sizes[1].MM, 1e-9)
	mm, ok := MeasureSize(m, &sizes[0], sizes[0].A, nil)
	require.True(t, ok)
	require.InDelta(t, 6, mm, 1e-9)
	_, ok = MeasureSize(m, &sizes[1], sizes[1].A, nil)
	require.False(t, ok, "half a size is none")
	// A ball has neither planes nor bores, and a plain shaft no bore.
	ball := solid.Icosphere(5, 3)
	require.Empty(t, mustSize(t, ball))
	shaft := solid.Cylinder(3, 10, 64)
	ends := mustSize(t, shaft)
	require.Equal(t, 1, len(ends), "strips of a round are no planes")
	require.InDelta(t, 10, ends[0].MM, 1e-9)
}

// The real bracket: 2 mm sheet around a gap of 12 mm, 22 x 16 x 32 mm over all.
func TestSizesOfRealBracket(t *testing.T) {
	m := stltest.Shared(t, "l-bracket.stl")
	found := map[string]bool{}
	for _, s := range mustSize(t, m) {
		found[fmt.Sprintf("%s %.3f", s.Kind, s.MM)] = true
	}
	for _, want := range []string{"width 2.000", "gap 12.000", "width 22.000"} {
		require.True(t, found[want], "%s in %v", want, found)
	}
}

// Whatever the number of facets in a ring, some facets of a bore lie all around it.
func TestSomeFacetsLieAllAround(t *testing.T) {
	for ring := 12; ring <= 400; ring++ {
		facets := make([]int32, 160*ring)
		for f := range facets {
			facets[f] = int32(f)
		}
		var sector [12]int
		for _, f := range some(facets) {
			sector[int(f)%ring*12/ring]++
		}
		for s, n := range sector { // 12.5 on the mean
			require.GreaterOrEqual(t, n, 3, "rings of %d facets: sector %d", ring, s)
		}
	}
}

func TestLargestFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	area := []float64{0, 1, 1, 1e-300, 5e-324, 1e300, 0}
	for range 5000 {
		area = append(area, math.Exp(r.NormFloat64()*100), math.Round(r.Float64()*8))
	}
	want := make([]int32, len(area))
	for i := range want {
		want[i] = int32(i)
	}
	slices.SortStableFunc(want, func(i, j int32) int { return cmp.Compare(area[j], area[i]) })
	require.Equal(t, want, slices.Collect(largest(area)))
}

// mustSize finds the sizes with several workers, and the same with one.
func mustSize(t *testing.T, m *mesh.Mesh) []Size {
	t.Helper()
	sizes, err := Sizes(t.Context(), m, m.Topology(), 3)
	require.NoError(t, err)
	alone, err := Sizes(t.Context(), m, m.Topology(), 1)
	require.NoError(t, err)
	require.Equal(t, alone, sizes)
	return sizes
}

func BenchmarkSizes(b *testing.B) {
	for _, cell := range []float64{3, 0.4} {
		m := solid.LanderBracket(cell)
		topo := m.Topology()
		b.Run(fmt.Sprintf("%d facets", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, err := Sizes(b.Context(), m, topo, 0)
				require.NoError(b, err)
			}
		})
	}
}
