package screen

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Decay constants against the table of references.md section 6.5.
func TestDecay(t *testing.T) {
	for _, c := range []struct{ b, x, y float64 }{
		{0.1, 0.441681783, 0.311052848},
		{1, 1.255783712, 0.860333589},
		{10, 2.179496597, 1.428870011},
		{100, 2.380901663, 1.555245129},
	} {
		require.InDelta(t, 2*c.x, decayBore(2*c.b, 1), 1e-8)
		require.InDelta(t, 2*c.y, decaySlot(2*c.b, 1), 1e-8)
	}
	require.InDelta(t, 2*2.404825557695773, decayBore(5, 0), 1e-12)
	require.InDelta(t, 3.141592653589793, decaySlot(5, 0), 1e-12)
}
