package offset_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/part/parttest"
	"skinstock/offset"
	"skinstock/offset/verify"
)

// What the proof lets pass is asked anew at a hundred times the places.
func TestDenserPlacesAgree(t *testing.T) {
	res, err := offset.Compensate(t.Context(), parttest.Demo(t), jobOf(t, nil))
	require.NoError(t, err)
	require.True(t, res.Proof.Within())
	denserAgrees(t, res, 2_000_000)
}

// denserAgrees checks that a proof at so many places finds nothing short that the result's own let pass.
func denserAgrees(t *testing.T, res *offset.Result, places int) {
	t.Helper()
	if !res.Proof.Within() {
		return // findings tell where
	}
	dense, err := verify.Verify(t.Context(), res.Nominal, res.Grown, res.Allowance, verify.Options{Samples: places})
	require.NoError(t, err)
	require.LessOrEqual(t, dense.All.Shortfall.Max.Value, promised)
	require.LessOrEqual(t, dense.GrownShortfall.Value, promised)
}
