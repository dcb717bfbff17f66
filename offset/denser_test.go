package offset_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/part/parttest"
	"skinstock/offset"
	"skinstock/offset/verify"
)

// What the proof let pass within 1 um is asked anew at ten times the places. Up to
// 1.1 um has been seen on this part, 5.2 um before folds over ridges were asked.
func TestDenserPlacesAgree(t *testing.T) {
	res, err := offset.Compensate(context.Background(), parttest.Demo(t), jobOf(t, nil))
	require.NoError(t, err)
	require.True(t, res.Proof.Within())
	dense, err := verify.Verify(context.Background(), res.Nominal, res.Grown, res.Allowance, verify.Options{Samples: 1_000_000})
	require.NoError(t, err)
	const seen = 1.25 * promised
	require.LessOrEqual(t, dense.All.Shortfall.Max.Value, seen)
	require.LessOrEqual(t, dense.GrownShortfall.Value, seen)
}
