package report

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Means over skins of one removal differ in their last digits, and print alike.
func TestFixedRoundsAlike(t *testing.T) {
	for v, want := range map[Number]string{
		0.1499999999999999: "0.2", 0.15: "0.2", 0.1500000000000001: "0.2", 0.1499: "0.1", -0.15: "-0.2",
		0: "0.0", -0.04: "0.0", 128.75: "128.8", 128.749: "128.7", 84: "84.0",
	} {
		require.Equal(t, want, fixed(v), "%v", float64(v))
	}
}
