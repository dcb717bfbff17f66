package offset_test

import (
	"context"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/offset"
)

// A grown part of another size or unit carries stock enough everywhere, and is
// an error nonetheless; the part's own growth is none.
func TestForeignGrownPart(t *testing.T) {
	nominal := solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})
	grown := solid.Box(r3.Vector{X: -0.08, Y: -0.08, Z: -0.15}, r3.Vector{X: 20.08, Y: 10.08, Z: 5.05})
	double := solid.Box(r3.Vector{X: -10, Y: -5, Z: -2.5}, r3.Vector{X: 30, Y: 15, Z: 7.5})
	codes := func(res *offset.Result) (out []string) {
		for _, f := range res.Findings {
			if f.Severity == finding.Error {
				out = append(out, f.Code)
			}
		}
		return out
	}
	res, err := offset.Verify(context.Background(), partOf(t, nominal), partOf(t, grown), jobOf(t, unequal), 0.001)
	require.NoError(t, err)
	require.Empty(t, codes(res))
	res, err = offset.Verify(context.Background(), partOf(t, nominal), partOf(t, double), jobOf(t, unequal), 0.001)
	require.NoError(t, err)
	require.Equal(t, []string{"stock_excess"}, codes(res))
	require.Zero(t, res.Proof.All.Shortfall.Max.Value)

	// One that is smaller is short by more than any gap could cost; half the stock is not.
	remedy := func(grown *mesh.Mesh) string {
		res, err := offset.Verify(context.Background(), partOf(t, nominal), partOf(t, grown), jobOf(t, unequal), 0.001)
		require.NoError(t, err)
		i := slices.IndexFunc(res.Findings, func(f finding.Finding) bool { return f.Code == "stock_missing" })
		require.GreaterOrEqual(t, i, 0)
		return res.Findings[i].Remedy
	}
	require.Contains(t, remedy(solid.Box(r3.Vector{X: 1, Y: 1, Z: 1}, r3.Vector{X: 19, Y: 9, Z: 4})), "belongs to this part")
	require.Contains(t, remedy(nominal), "more room")
}
