package grow

import (
	"context"
	"math"
	"math/rand"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// nearestTo returns the distance of p from a mesh.
func nearestTo(m *mesh.Mesh, p r3.Vector) float64 {
	return bvh.New(m, 1).Closest(p, bvh.NoHint).Dist
}

// The cover of a facet of any shape is closed, holds the half ball
// around every point of the facet, or the whole ball, and ends within 1.18 reaches of it: the
// diagonal of an octagon's corner (1.082) beyond the corner of a polygon of eight sides (1.082).
func TestCoverHoldsTheHalfBall(t *testing.T) {
	rnd := rand.New(rand.NewSource(5))
	gauss := func() r3.Vector { return v(rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()) }
	for i := range 200 {
		reach := 0.02 + 0.5*rnd.Float64()
		long := math.Pow(10, 2*rnd.Float64()-1)
		a, d, e := gauss().Mul(20), gauss(), gauss()
		m := &mesh.Mesh{
			Vertices: []r3.Vector{a, a.Add(d.Mul(long)), a.Add(d.Mul(long * rnd.Float64())).Add(e.Mul(0.1 * rnd.Float64()))},
			Facets:   [][3]int32{{0, 1, 2}},
		}
		whole := i%2 == 1
		c := Cover(m, 0, reach, whole)
		require.True(t, c.Topology().Closed())
		x, err := bvh.New(c, 1).SelfCrossings(context.Background(), bvh.CrossingOptions{})
		require.NoError(t, err)
		require.Zero(t, x.Total, "cover %d crosses itself", i)
		n, signs := m.FacetNormal(0), bvh.New(c, 1).Signs(nil)
		for range 40 {
			s, u := rnd.Float64(), rnd.Float64()
			if s+u > 1 {
				s, u = 1-s, 1-u
			}
			p := m.Vertices[0].Add(m.Vertices[1].Sub(m.Vertices[0]).Mul(s)).Add(m.Vertices[2].Sub(m.Vertices[0]).Mul(u))
			dir := gauss().Normalize()
			if dir.Dot(n) < 0 && !whole {
				dir = dir.Mul(-1)
			}
			q := p.Add(dir.Mul(reach))
			_, d := signs.Closest(q, bvh.NoHint)
			require.Negative(t, d, "cover %d misses a point", i)
		}
		for _, q := range c.Vertices {
			require.LessOrEqual(t, nearestTo(m, q), 1.18*(reach+2*coverProud)+1e-5)
		}
	}
}

func TestNoCoverWithoutAreaOrReach(t *testing.T) {
	m := &mesh.Mesh{Vertices: []r3.Vector{v(0, 0, 0), v(1, 0, 0), v(2, 0, 0), v(0, 1, 0)}, Facets: [][3]int32{{0, 1, 2}, {0, 1, 3}}}
	require.Nil(t, Cover(m, 0, 0.1, false))
	require.Nil(t, Cover(m, 1, 0, false))
	require.NotNil(t, Cover(m, 1, 0.1, false))
}
