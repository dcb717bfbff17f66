package offset_test

import (
	"context"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

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
}
