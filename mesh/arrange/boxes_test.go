package arrange

import (
	"context"
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
		out, rep, err := Resolve(context.Background(), m, Options{})
		require.NoError(rt, err)
		requireSoundRapid(rt, out)
		want := cells(boxes, n) * scale * scale * scale
		// 6 n^2 bounds the area of the union's surface only loosely; folds of nudged planes stay below it.
		tol := math.Max(2e-3*scale*scale*6*n*n*0.25, 0)
		if d := out.Volume() - want; math.Abs(d) > tol {
			rt.Fatalf("volume %g, want %g: %+v", out.Volume(), want, rep.Rounds)
		}
	})
}

func requireSoundRapid(t *rapid.T, m *mesh.Mesh) {
	if !m.Topology().Closed() {
		t.Fatal("not closed")
	}
	s, err := fromMesh(m)
	require.NoError(t, err)
	require.NoError(t, s.link())
	require.Len(t, s.at, len(m.Vertices))
	cs, err := newTree(s).contacts(context.Background(), 1)
	require.NoError(t, err)
	require.Empty(t, cs)
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
		out, _, err := Resolve(context.Background(), m, Options{})
		require.NoError(rt, err)
		requireSoundRapid(rt, out)
	})
}
