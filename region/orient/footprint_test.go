package orient

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

// A box stands on its sides whichever way it is turned about the build
// direction; a cube on its corner stands in the rectangle around a hexagon of
// side s = a sqrt(2/3): 2 s by s sqrt(3).
func TestFootprint(t *testing.T) {
	box := solid.Box(at(0, 0, 0), at(20, 10, 5))
	for _, turn := range []float64{0, 0.3, 1.9} {
		m := solid.Move(box, solid.Rotation{Axis: at(0, 0, 1), Angle: 1}, at(turn, 2, 3))
		long, wide := footprint(m.Vertices, at(0, 0, 1))
		require.InDelta(t, 20, long, 1e-9)
		require.InDelta(t, 10, wide, 1e-9)
	}
	cube := solid.Box(at(0, 0, 0), at(10, 10, 10))
	long, wide := footprint(cube.Vertices, at(1, 1, 1).Normalize())
	s := 10 * math.Sqrt(2.0/3)
	require.InDelta(t, 2*s, long, 1e-9)
	require.InDelta(t, s*math.Sqrt(3), wide, 1e-9)
	// A ball's outermost vertices in 600 directions hold its width to half a per cent.
	ball := NewHistogram(solid.Icosphere(10, 5), nil)
	long, wide = footprint(ball.support, at(1, 2, 3).Normalize())
	require.InEpsilon(t, 20, long, 0.005)
	require.InEpsilon(t, 20, wide, 0.005)
	require.Less(t, len(ball.support), 601)
}

func TestFits(t *testing.T) {
	require.True(t, fits([3]float64{}, 1e9, 1e9, 1e9))
	require.True(t, fits([3]float64{100, 200, 50}, 200, 100, 50), "turned about the build direction")
	require.False(t, fits([3]float64{100, 200, 50}, 200, 101, 50))
	require.False(t, fits([3]float64{100, 200, 50}, 20, 10, 51))
}

// Ranges of angle hold their cosines: every angle is found in the range it lies
// in, of the skin that sorting gives it.
func TestLimitsFindEveryAngle(t *testing.T) {
	l := newLimits(60*math.Pi/180, 45*math.Pi/180)
	for deg := 0.05; deg < 180; deg += 0.1 {
		i := l.of(math.Cos(deg * math.Pi / 180))
		want := "vertical"
		switch {
		case deg < 60:
			want = "upskin"
		case deg > 120:
			want = "downskin"
		}
		require.Equal(t, want, l.skin[i].String(), deg)
		require.Equal(t, deg > 135, l.flat[i], deg)
		bin := -1
		if deg > 90 {
			bin = int((180 - deg) / 5)
		}
		require.Equal(t, bin, l.bin[i], deg)
	}
	for _, d := range []float64{1, 1.0000001, -1, -1.0000001, 0} { // ends, rounding beyond them, exactly upright
		i := l.of(d)
		require.Equal(t, d < -0.5, l.flat[i])
		require.Equal(t, d < 0, l.bin[i] >= 0)
	}
}
