package arrange

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// By digits or by comparing, keys come out by code, and equal ones by facet.
func TestSortByCode(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for _, n := range []int{0, 1, 100, 50_000} {
		for _, bits := range []uint{3, 20, 40, 63} {
			keys := make([]curveKey, n)
			for i := range keys {
				keys[i] = curveKey{r.Uint64N(1 << bits), int32(i)}
			}
			want := slices.Clone(keys)
			slices.SortFunc(want, func(a, b curveKey) int { return cmp.Or(cmp.Compare(a.code, b.code), cmp.Compare(a.f, b.f)) })
			require.Equal(t, want, sortByCode(keys), "%d keys of %d bits", n, bits)
		}
	}
}
