package arrange

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// cells returns the volume of the union of boxes with whole-number corners in
// [0, n]: unit cells whose middle lies in a box.
func cells(boxes [][2][3]int, n int) float64 {
	v := 0.0
	for x := range n {
		for y := range n {
			for z := range n {
				for _, b := range boxes {
					if b[0][0] <= x && x < b[1][0] && b[0][1] <= y && y < b[1][1] && b[0][2] <= z && z < b[1][2] {
						v++
						break
					}
				}
			}
		}
	}
	return v
}

// Boxes on a coarse lattice touch and coincide in every way: faces in one
// plane, shared edges and corners, equal boxes. The volume of the result may differ
// from the union by what nudging adds: area times the nudge.
func TestLatticeBoxes(t *testing.T) {
	const n = 4
	rapid.Check(t, func(rt *rapid.T) {
		var boxes [][2][3]int
		var parts []*mesh.Mesh
		count := rapid.IntRange(1, 7).Draw(rt, "boxes")
		scale := rapid.SampledFrom([]float64{1, 0.3, 25}).Draw(rt, "scale")
		for range count {
			var b [2][3]int
			for k := range 3 {
				b[0][k] = rapid.IntRange(0, n-1).Draw(rt, "lo")
				b[1][k] = rapid.IntRange(b[0][k]+1, n).Draw(rt, "hi")
			}
			boxes = append(boxes, b)
			p := func(i int) r3.Vector {
				return vec(float64(b[i][0]), float64(b[i][1]), float64(b[i][2])).Mul(scale)
			}
			parts = append(parts, solid.Box(p(0), p(1)))
		}
		m := solid.Merge(parts...)
		out, _ := resolve(rt, m, Options{})
		want := cells(boxes, n) * scale * scale * scale
		// At most four nudges of 0.1 um over the area.
		require.InDelta(rt, want, out.Volume(), 4e-4*m.Area())
	})
}

// Boxes turned at random: general position, checked by counting points.
func TestTurnedBoxes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var parts []*mesh.Mesh
		for range rapid.IntRange(2, 8).Draw(rt, "boxes") {
			f := func(lo, hi float64, name string) float64 { return rapid.Float64Range(lo, hi).Draw(rt, name) }
			b := solid.Box(vec(-f(0.2, 5, "x"), -f(0.2, 5, "y"), -f(0.2, 5, "z")), vec(f(0.2, 5, "x"), f(0.2, 5, "y"), f(0.2, 5, "z")))
			a, c := f(0, 6.28, "a"), f(0, 6.28, "c")
			sa, ca := math.Sincos(a)
			sc, cc := math.Sincos(c)
			sh := vec(f(-4, 4, "dx"), f(-4, 4, "dy"), f(-4, 4, "dz"))
			b = solid.Map(b, func(p r3.Vector) r3.Vector {
				p = vec(ca*p.X-sa*p.Y, sa*p.X+ca*p.Y, p.Z)
				return vec(p.X, cc*p.Y-sc*p.Z, sc*p.Y+cc*p.Z).Add(sh)
			})
			parts = append(parts, b)
		}
		m := solid.Merge(parts...)
		out, rep := resolve(rt, m, Options{})
		require.LessOrEqual(rt, out.Volume(), m.Volume()+1e-3) // a union is never more than the sum
		for _, b := range parts {
			require.GreaterOrEqual(rt, out.Volume(), b.Volume()-1e-3)
		}
		probes := make([]r3.Vector, 20)
		for i := range probes {
			r := mix(uint64(i) + 7)
			probes[i] = vec(float64(r&0xffff)/0xffff-0.5, float64(r>>16&0xffff)/0xffff-0.5, float64(r>>32&0xffff)/0xffff-0.5).Mul(10)
		}
		for _, p := range append(probes, rep.Places...) {
			in := false
			near := math.Inf(1)
			for _, b := range parts {
				in = in || math.Round(windingAt(b, p)) == 1
				near = math.Min(near, nearSurface(b, p))
			}
			if near > 0.001 { // beyond what merging and nudging may move
				require.Equal(rt, in, math.Round(windingAt(out, p)) == 1, "at %v", p)
			}
		}
	})
}
