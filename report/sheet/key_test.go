package sheet

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

// A tight sheet shows the part at the same scale on less height, and grows by a
// line for each pin that its foot has no room for.
func TestTightSheet(t *testing.T) {
	in := example("plate", solid.Box(r3.Vector{}, r3.Vector{X: 60, Y: 40, Z: 5}), r3.Vector{Z: 1}, [4]float64{82, 96, 141, 96})
	high := func(pins int, tight bool) int {
		in := in
		in.Pins = nil
		for i := range pins {
			in.Pins = append(in.Pins, Pin{Number: i + 1, At: r3.Vector{X: 10}, Text: "found"})
		}
		img, err := stage(t, in, 0).Sheet(ctx, Options{Layers: []Layer{Skins}, Tight: tight})
		require.NoError(t, err)
		require.Equal(t, 1600, img.Rect.Dx())
		return img.Rect.Dy()
	}
	require.Equal(t, 1200, high(3, false))
	few := high(3, true)
	require.Less(t, few, 1100)
	require.Equal(t, few, high(4, true), "the legend of skins is as high")
	require.Equal(t, 5*keyPitch, high(12, true)-high(7, true))
}
