package mesh_test

import (
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// buildWhole is Build, with topology and shells held to those of the mesh.
func buildWhole(t require.TestingT, s *mesh.Soup, opt mesh.BuildOptions) (*mesh.Mesh, *mesh.Repairs, error) {
	b, err := mesh.BuildWhole(s, opt)
	if err == nil {
		require.Equal(t, b.Mesh.Topology(), b.Topo)
		require.Equal(t, b.Mesh.Shells(b.Topo), b.Shells)
		if b.Around != nil || b.Repairs.Total() == 0 {
			require.Equal(t, b.Mesh.Incidence(), b.Around)
		}
	}
	return b.Mesh, b.Repairs, err
}

// somePart draws a closed part: one of a few kinds, turned, placed and scaled.
func somePart(t *rapid.T) *mesh.Mesh {
	var m *mesh.Mesh
	switch rapid.IntRange(0, 4).Draw(t, "kind") {
	case 0:
		m = solid.Box(v(0, 0, 0), v(rapid.Float64Range(1, 9).Draw(t, "x"), 4, rapid.Float64Range(1, 9).Draw(t, "z")))
	case 1:
		m = solid.Icosphere(5, rapid.IntRange(0, 2).Draw(t, "level"))
	case 2:
		m = solid.Torus(6, 2, 16, 9)
	case 3:
		m = solid.Tube(5, 3, 7, rapid.IntRange(5, 24).Draw(t, "n"))
	default:
		m = solid.Merge(solid.Icosphere(5, 2), solid.Reverse(solid.Icosphere(3, 1)), solid.Shift(solid.Icosphere(1, 0), v(0, 0, 9)))
	}
	a := rapid.Float64Range(0, 6).Draw(t, "turn")
	s, c := math.Sin(a), math.Cos(a)
	k := rapid.Float64Range(0.5, 20).Draw(t, "scale")
	at := v(rapid.Float64Range(-50, 50).Draw(t, "at"), 3, -20)
	m = solid.Map(m, func(p r3.Vector) r3.Vector {
		return v(k*(c*p.X-s*p.Y), k*(s*p.X+c*p.Y), k*p.Z).Add(at)
	})
	m.RoundToFloat32()
	return m
}

// shuffled returns the facets in another order, each begun at another corner.
func shuffled(t *rapid.T, s *mesh.Soup) *mesh.Soup {
	order := rapid.Permutation(indices(len(s.Corners))).Draw(t, "order")
	out := &mesh.Soup{}
	for i, f := range order {
		c := s.Corners[f]
		k := i % 3
		out.Corners = append(out.Corners, [3][3]float32{c[k], c[(k+1)%3], c[(k+2)%3]})
	}
	return out
}

func indices(n int) []int {
	x := make([]int, n)
	for i := range x {
		x[i] = i
	}
	return x
}

// shape lists the facets by their points, each begun at its first point,
// sorted: the surface without regard to numbers.
func shape(m *mesh.Mesh) [][3]r3.Vector {
	out := make([][3]r3.Vector, len(m.Facets))
	for f := range m.Facets {
		var c [3]r3.Vector
		c[0], c[1], c[2] = m.Triangle(f)
		for c[1].Cmp(c[0]) < 0 || c[2].Cmp(c[0]) < 0 {
			c[0], c[1], c[2] = c[1], c[2], c[0]
		}
		out[f] = c
	}
	slices.SortFunc(out, func(a, b [3]r3.Vector) int {
		for k := range 3 {
			if d := a[k].Cmp(b[k]); d != 0 {
				return d
			}
		}
		return 0
	})
	return out
}

// damage spoils a soup in ways that Build mends, and returns how far corners
// were moved, in file units.
func damage(t *rapid.T, s *mesh.Soup) *mesh.Soup {
	out := &mesh.Soup{Corners: append([][3][3]float32(nil), s.Corners...)}
	n := len(out.Corners)
	few := rapid.SliceOfNDistinct(rapid.IntRange(0, n-1), 0, max(1, n/8), rapid.ID[int])
	for _, f := range few.Draw(t, "flip") {
		c := &out.Corners[f]
		c[1], c[2] = c[2], c[1]
	}
	for _, f := range few.Draw(t, "twice") {
		out.Corners = append(out.Corners, out.Corners[f])
	}
	for _, f := range few.Draw(t, "folded") {
		c := out.Corners[f]
		out.Corners = append(out.Corners, [3][3]float32{c[0], c[1], c[1]})
	}
	return out
}

// Sound parts come out as they went in, in whatever order the facets are.
func TestFacetOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := somePart(t)
		s := solid.Soup(part)
		m, rep, err := mesh.Build(shuffled(t, s), mesh.BuildOptions{})
		require.NoError(t, err)
		require.Zero(t, rep.Total(), "%v", rep.Mends)
		require.Equal(t, len(part.Vertices), len(m.Vertices))
		require.Equal(t, shape(part), shape(m))
	})
}

// Facets turned, doubled and folded are mended to the part they came from.
func TestDamageIsMended(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := somePart(t)
		m, _, err := buildWhole(t, shuffled(t, damage(t, solid.Soup(part))), mesh.BuildOptions{})
		require.NoError(t, err)
		require.Equal(t, shape(part), shape(m))
	})
}

// Cracks within the tolerance are closed: the surface is closed again with the
// same facets, no vertex is farther off than the crack was wide, and the volume
// is right to area times width. The facets' order does not matter here either.
func TestCracksAreClosed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := somePart(t)
		s := solid.Soup(part)
		lo, hi := part.Bounds()
		// Up to a third of the widest crack that is closed by itself, each way.
		width := hi.Sub(lo).Norm() * 1e-4 / 3 * rapid.Float64Range(0, 1).Draw(t, "width")
		sign := rapid.SliceOfN(rapid.IntRange(-1, 1), 31, 31).Draw(t, "signs")
		for f := range s.Corners {
			for k := range 3 {
				i := 3*f + k
				s.Corners[f][k][i%3] += float32(width / 2 * float64(sign[i%31]))
			}
		}
		m, rep, err := mesh.Build(s, mesh.BuildOptions{})
		require.NoError(t, err)
		require.Equal(t, len(part.Facets), len(m.Facets))
		require.Equal(t, len(part.Vertices), len(m.Vertices))
		require.InDelta(t, part.Volume(), m.Volume(), part.Area()*(width+1e-5))
		for _, k := range rep.Mends {
			require.Equal(t, mesh.MendCrack, k.Kind)
			require.LessOrEqual(t, k.MoveMM, 2*width+1e-4)
		}
		again, _, err := mesh.Build(shuffled(t, s), mesh.BuildOptions{})
		require.NoError(t, err)
		require.Equal(t, shape(m), shape(again))
	})
}

// Whatever the soup, Build returns in time, and what it returns is closed.
func TestAnySoup(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Corners on a small grid, so that many coincide.
		x := rapid.Float32Range(0, 3)
		n := rapid.IntRange(1, 60).Draw(t, "facets")
		s := &mesh.Soup{}
		for range n {
			var c [3][3]float32
			for k := range 3 {
				for i := range 3 {
					c[k][i] = float32(math.Round(float64(x.Draw(t, "x"))))
				}
			}
			s.Corners = append(s.Corners, c)
		}
		m, rep, err := buildWhole(t, s, mesh.BuildOptions{})
		if err != nil {
			require.Nil(t, m)
			require.NotNil(t, rep)
			return
		}
		require.True(t, m.Topology().Closed())
	})
}

// Closed polyhedra glued of grid cubes: shared walls, edges and corners of all kinds.
func TestAnyCubes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const side = 3
		var boxes []*mesh.Mesh
		for i := range side * side * side {
			if rapid.Bool().Draw(t, "cube") {
				p := v(float64(i%side), float64(i/side%side), float64(i/side/side))
				boxes = append(boxes, solid.Box(p, p.Add(v(1, 1, 1))))
			}
		}
		if len(boxes) == 0 {
			return
		}
		m, rep, err := buildWhole(t, shuffled(t, solid.Soup(solid.Merge(boxes...))), mesh.BuildOptions{})
		require.NoError(t, err)
		require.True(t, m.Topology().Closed())
		require.InDelta(t, float64(len(boxes)), m.Volume(), 1e-12)
		require.Zero(t, rep.Of(mesh.MendInverted))
		requireFans(t, m, m.Topology())
	})
}
