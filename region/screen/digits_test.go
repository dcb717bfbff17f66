package screen

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTenths(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0.0", 12.34: "12.3", 1: "1.0", 0.996: "1.0", 0.994: "0.99", 0.25: "0.25", 0.0123: "0.012", 2e-5: "2e-05",
	} {
		require.Equal(t, want, tenths(v), "%g", v)
	}
}
