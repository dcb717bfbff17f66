package offset_test

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/offset"
)

// plateUnderPeg is a plate of 40 x 40 x 5 mm with a cube of 2 mm standing 0.4 mm above the middle of its top.
func plateUnderPeg() *mesh.Mesh {
	return solid.Merge(
		solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 40, Z: 5}),
		solid.Box(r3.Vector{X: 19, Y: 19, Z: 5.4}, r3.Vector{X: 21, Y: 21, Z: 7.4}),
	)
}

// A narrow place in the middle of a large face lowers the stock around it only.
func TestNarrowPlaceLowersItsNeighbourhood(t *testing.T) {
	const um, a = 150, 0.15
	m := plateUnderPeg()
	res := grownGap(t, m, um)
	fs := of(res, "refined")
	require.Len(t, fs, 1)
	require.Less(t, len(res.Nominal.Facets), 2000)
	require.InDelta(t, m.Volume(), res.Nominal.Volume(), 1e-9)
	require.InDelta(t, m.Area(), res.Nominal.Area(), 1e-9)

	// The allowance takes a/slope = 1 mm to fall from all to nothing, and no facet is cut
	// below that: facets of 2 mm reach from the place, and the slope from their ends.
	const away = 2*math.Sqrt2 + 1 + 0.05
	full := 0.0
	for f := range res.Nominal.Facets {
		for k, x := range res.Allowance[f] {
			p := res.Nominal.Corner(f, k)
			if p.Z > 5 {
				continue
			}
			d := math.Hypot(max(math.Abs(p.X-20)-1, 0), max(math.Abs(p.Y-20)-1, 0))
			if p.Z < 5 || d > away {
				require.Equal(t, a, x, "at %v, %g mm from the place", p, d)
			} else if d < 0.9 {
				require.LessOrEqual(t, x, 0.05+0.15*d+1e-5, "half of what 0.4 mm leave, and the slope")
			}
			if x == a {
				full += res.Nominal.FacetArea(f) / 3
			}
		}
	}
	require.Greater(t, full/m.Area(), 0.97)
	missing(t, res, 0.1, 2e-5, func(p r3.Vector) bool { return math.Abs(p.X-20) < 4 && math.Abs(p.Y-20) < 4 })
	require.LessOrEqual(t, res.Proof.All.Shortfall.Max.Value, promised)

	// Every facet is one of the part's or a piece of it, in its plane.
	for f := range res.Nominal.Facets {
		s := res.Nominal.SourceOf(f)
		require.InDelta(t, 0, res.Nominal.FacetNormal(f).Sub(m.FacetNormal(s)).Norm(), 1e-12)
		require.Zero(t, res.Nominal.AreaNormal(f).Cross(m.AreaNormal(s)).Norm())
	}
	tree := bvh.New(res.Part.Mesh, 1)
	for _, v := range res.Nominal.Vertices {
		require.Less(t, tree.Closest(v, bvh.NoHint).Dist, 1e-9)
	}
	// The top rises by all of the stock far from the peg: seen from the part as it came.
	grown := bvh.New(res.Grown, 1)
	for _, p := range []r3.Vector{{X: 1, Y: 1, Z: 5}, {X: 39, Y: 20, Z: 5}, {X: 20, Y: 15, Z: 5}, {X: 25, Y: 20, Z: 5}} {
		require.InDelta(t, a, grown.Closest(p, bvh.NoHint).Dist, 1e-6, "%v", p)
	}
}

// Left whole, the facet has the narrow place's stock all over.
func TestFacetsStayWholeWhenAsked(t *testing.T) {
	job := jobOf(t, everySkin(150))
	job.ChordUM = -1
	res, err := offset.Compensate(context.Background(), partOf(t, plateUnderPeg()), job)
	require.NoError(t, err)
	require.Len(t, res.Nominal.Facets, 24)
	require.Empty(t, of(res, "refined"))
	require.Less(t, bvh.New(res.Grown, 1).Closest(r3.Vector{X: 20, Y: 15, Z: 5}, bvh.NoHint).Dist, 0.06)
}

// Where the allowance is constant on every facet nothing is cut.
func TestConstantAllowanceCutsNothing(t *testing.T) {
	for _, m := range []*mesh.Mesh{
		solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 40, Z: 5}),
		solid.Cylinder(20, 60, 24),
	} {
		res := grownGap(t, m, 150)
		require.Same(t, res.Part.Mesh, res.Nominal)
		require.Equal(t, res.Refined.Before, res.Refined.After)
	}
	// Skins that meet in sharp edges: nothing spreads.
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(r3.Vector{}, r3.Vector{X: 40, Y: 40, Z: 5})), jobOf(t, nil))
	require.NoError(t, err)
	require.Same(t, res.Part.Mesh, res.Nominal)
}

// The same cuts for any number of workers.
func TestRefiningDoesNotDependOnWorkers(t *testing.T) {
	var first *offset.Result
	for _, n := range []int{1, 2, 7} {
		job := jobOf(t, everySkin(150))
		job.Workers = n
		res, err := offset.Compensate(context.Background(), partOf(t, plateUnderPeg()), job)
		require.NoError(t, err)
		if first == nil {
			first = res
			continue
		}
		require.Equal(t, first.Grown.Vertices, res.Grown.Vertices)
		require.Equal(t, first.Grown.Facets, res.Grown.Facets)
	}
}
