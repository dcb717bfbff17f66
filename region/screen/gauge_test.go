package screen_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// cut takes the tools out of a body, as a boolean difference does.
func cut(t testing.TB, body *mesh.Mesh, tools ...*mesh.Mesh) *mesh.Mesh {
	t.Helper()
	all := []*mesh.Mesh{body}
	for _, c := range tools {
		all = append(all, solid.Reverse(c))
	}
	m, _, err := arrange.Resolve(context.Background(), solid.Merge(all...), arrange.Options{})
	require.NoError(t, err)
	require.True(t, m.Topology().Closed())
	return m
}

// along returns a body that was made along z turned so that z becomes the
// direction d, spun about itself by the angle spin, and moved to q.
func along(m *mesh.Mesh, d, q r3.Vector, spin float64) *mesh.Mesh {
	m = solid.Move(m, solid.Rotation{Axis: r3.Vector{Z: 1}, Angle: s1.Angle(spin)}, r3.Vector{})
	z := r3.Vector{Z: 1}
	axis := z.Cross(d)
	if axis.Norm() < 1e-12 {
		if d.Z > 0 {
			return solid.Shift(m, q)
		}
		axis = r3.Vector{X: 1}
	}
	return solid.Move(m, solid.Rotation{Axis: axis.Normalize(), Angle: z.Angle(d)}, q)
}

// drilled is a hole of a gauge part.
type drilled struct {
	mouth, dir r3.Vector // dir points into the metal
	d, depth   float64   // depth along the axis, mean round the circle
	sides      int
	ends       int
}

// plate returns a plate with 40 through and 40 blind holes of stepped
// diameters from 1 to 10 mm, at random inclinations up to 25 degrees, random
// depths and tessellations of 12 to 72 sides.
func plate(t testing.TB, seed uint64) (*mesh.Mesh, []drilled) {
	t.Helper()
	const thick, pitch = 20.0, 26.0 // far enough apart never to meet
	rng := rand.New(rand.NewPCG(seed, 11))
	var holes []drilled
	var tools []*mesh.Mesh
	for i := range 80 {
		tilt, turn := rng.Float64()*25*math.Pi/180, rng.Float64()*2*math.Pi
		dir := r3.Vector{X: math.Sin(tilt) * math.Cos(turn), Y: math.Sin(tilt) * math.Sin(turn), Z: -math.Cos(tilt)}
		h := drilled{
			mouth: r3.Vector{X: pitch * (float64(i%10) + 0.5), Y: pitch * (float64(i/10) + 0.5), Z: thick},
			dir:   dir, d: 1 + 9*float64(i/2)/39, sides: 12 + rng.IntN(61),
		}
		if i%2 == 0 {
			h.ends, h.depth = 2, thick/math.Cos(tilt)
			tools = append(tools, along(solid.Cylinder(h.d/2, h.depth+20, h.sides), dir, h.mouth.Sub(dir.Mul(10)), rng.Float64()))
		} else {
			h.ends, h.depth = 1, (0.3+0.4*rng.Float64())*thick
			tools = append(tools, along(solid.Cylinder(h.d/2, h.depth+10, h.sides), dir, h.mouth.Sub(dir.Mul(10)), rng.Float64()))
		}
		holes = append(holes, h)
	}
	body := solid.Box(r3.Vector{}, r3.Vector{X: 10 * pitch, Y: 8 * pitch, Z: thick})
	return cut(t, body, tools...), holes
}

// Every hole of the plate is found, and nothing else is one. The vertices of
// the wall lie on the circle, so that the diameter is good to 1 % whatever
// the sides; the depth is that of the axis, to 2 %.
func TestPlateGauge(t *testing.T) {
	for seed := range uint64(1) {
		plateGauge(t, seed)
	}
}

func plateGauge(t *testing.T, seed uint64) {
	m, holes := plate(t, seed)
	rep := look(t, m, screen.Options{})
	require.Empty(t, rep.Slots)
	require.Len(t, rep.Bores, len(holes))
	used := map[int]bool{}
	for i, h := range holes {
		middle := h.mouth.Add(h.dir.Mul(h.depth / 2))
		best := 0
		for j := range rep.Bores {
			if rep.Bores[j].At.Sub(middle).Norm() < rep.Bores[best].At.Sub(middle).Norm() {
				best = j
			}
		}
		require.False(t, used[best], "hole %d", i)
		used[best] = true
		b := rep.Bores[best]
		assert.InDelta(t, 0, b.At.Sub(middle).Norm(), 0.02*(h.depth+h.d), "hole %d", i)
		assert.InEpsilon(t, h.d, b.DiameterMM, 0.01, "hole %d of %d sides", i, h.sides)
		assert.InEpsilon(t, h.depth, b.DepthMM, 0.02, "hole %d, diameter %.3g", i, h.d)
		assert.Equal(t, h.ends, b.OpenEnds, "hole %d", i)
		assert.InDelta(t, 1, math.Abs(b.Axis.Dot(h.dir)), 1e-3, "hole %d", i)
	}
}
