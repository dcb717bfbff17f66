package offset_test

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/offset"
)

// folded is a finely cut box, one of whose facets is split into slivers with a
// vertex that lies across the next facet by half a micrometre.
func folded() *mesh.Mesh {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 8, Y: 8, Z: 8})
	for range 3 {
		m = solid.Halve(m)
	}
	for f, t := range m.Facets {
		a, b, c := m.Triangle(f)
		if n := m.FacetNormal(f); n.Z < 0.9 || math.Max(a.X, math.Max(b.X, c.X)) > 6 || math.Min(a.X, math.Min(b.X, c.X)) < 2 {
			continue
		}
		// A point just beyond the middle of edge ab, seen from c.
		out := a.Add(b).Mul(0.5).Sub(c)
		p := a.Add(b).Mul(0.5).Add(out.Normalize().Mul(0.0005))
		v := int32(len(m.Vertices))
		m.Vertices = append(m.Vertices, p)
		m.Facets[f] = [3]int32{t[0], t[1], v}
		m.Facets = append(m.Facets, [3]int32{t[1], t[2], v}, [3]int32{t[2], t[0], v})
		return m
	}
	panic("no facet on top")
}

// A sliver folded over its neighbour by a rounding is taken out rather than cut;
// the other facets stay as they were, and the part grows to its exact size.
func TestFoldedSliverIsCleaned(t *testing.T) {
	m := folded()
	res, err := offset.Compensate(context.Background(), partOf(t, m), jobOf(t, everySkin(150)))
	require.NoError(t, err)
	sound(t, res)
	require.Len(t, of(res, "cleaned"), 1)
	require.Empty(t, of(res, "self_crossing_input"))
	require.LessOrEqual(t, of(res, "cleaned")[0].SizeMM, 0.001)
	require.Equal(t, len(m.Facets)-2, len(res.Nominal.Facets))
	for f := range res.Nominal.Facets {
		s := res.Nominal.SourceOf(f)
		require.GreaterOrEqual(t, s, 0)
		require.InDelta(t, 0, m.FacetNormal(s).Sub(res.Nominal.FacetNormal(f)).Norm(), 2e-3, "facet %d is not facet %d of the file", f, s)
	}
	// The bound of the move times the area of the facets around, and single precision.
	require.InDelta(t, math.Pow(8.3, 3), res.GrownMM3, 0.001*8+1e-4)
}
