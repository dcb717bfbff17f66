package refine_test

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/offset/grow"
	"skinstock/offset/refine"
)

// spreading returns the allowance after the slope rule alone.
func spreading(own []float64, slope float64) func(context.Context, *mesh.Mesh, *mesh.Topology, []int32) (mesh.CornerField, mesh.CornerField, error) {
	return func(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (mesh.CornerField, mesh.CornerField, error) {
		piece := make([]float64, len(parent))
		for f, p := range parent {
			piece[f] = own[p]
		}
		return grow.Field(ctx, m, topo, piece, grow.Options{MaxSlope: slope})
	}
}

// A cylinder on its side whose allowance follows the angle of its facets. Every
// facet calls for a(theta) of its own normal; from a neighbour that calls for
// more the allowance falls with the slope. On the developed mantle that is, at the distance u
// along the girth, the largest of a_i - slope * (distance of u from strip i).
func TestAllowanceByAngle(t *testing.T) {
	const (
		n, radius, length = 24, 50.0, 30.0
		slope             = 0.004
		tolerance         = 0.001
	)
	m := solid.Cylinder(radius, length, n)
	own, strip, width := make([]float64, len(m.Facets)), make([]int, len(m.Facets)), 2*radius*math.Sin(math.Pi/n)
	byStrip := make([]float64, n)
	for f := range m.Facets {
		normal := m.FacetNormal(f)
		if strip[f] = -1; math.Abs(normal.Z) < 0.5 {
			theta := math.Atan2(normal.Y, normal.X)
			strip[f] = int(math.Floor((theta+2*math.Pi)/(2*math.Pi/n))) % n
			own[f] = 0.12 + 0.08*math.Sin(theta)*math.Sin(theta)
			byStrip[strip[f]] = own[f]
		}
	}
	closed := func(s int, along float64) float64 { // along from the middle of strip s
		best := byStrip[s]
		for i := range byStrip {
			steps := math.Remainder(float64(i-s), n)
			gap := math.Abs(steps*width-along) - width/2
			best = max(best, byStrip[i]-slope*max(gap, 0))
		}
		return best
	}
	off := func(r *refine.Result, field mesh.CornerField) (most, least float64) {
		for f, p := range r.Parent {
			s := strip[p]
			if s < 0 {
				continue
			}
			a, b, c := r.Mesh.Triangle(f)
			theta := (float64(s) + 0.5) * 2 * math.Pi / n
			tangent := r3.Vector{X: -math.Sin(theta), Y: math.Cos(theta)}
			for i := range 11 {
				for j := range 11 - i {
					u, v := float64(i)/10, float64(j)/10
					q := a.Mul(u).Add(b.Mul(v)).Add(c.Mul(1 - u - v))
					d := field.At(f, u, v, 1-u-v) - closed(s, q.Dot(tangent))
					most, least = max(most, d), min(least, d)
				}
			}
		}
		return most, least
	}
	allowance := spreading(own, slope)
	coarse, err := refine.Run(context.Background(), m, m.Topology(), refine.Options{Allowance: allowance, Tolerance: tolerance, Least: math.Inf(1), Most: 1})
	require.NoError(t, err)
	require.Same(t, m, coarse.Mesh)
	_, field, err := allowance(context.Background(), m, m.Topology(), coarse.Parent)
	require.NoError(t, err)
	before, _ := off(coarse, field)
	require.Greater(t, before, 0.004, "the whole facets carry more than they should")

	fine, err := refine.Run(context.Background(), m, m.Topology(), refine.Options{Allowance: allowance, Tolerance: tolerance, Least: 0.4, Most: 100000})
	require.NoError(t, err)
	require.True(t, fine.Topo.Closed())
	_, field, err = allowance(context.Background(), fine.Mesh, fine.Topo, fine.Parent)
	require.NoError(t, err)
	most, least := off(fine, field)
	t.Logf("off by %.2f um as it came, %.2f to %.2f um on %d facets after %d rounds", 1e3*before, 1e3*least, 1e3*most, len(fine.Mesh.Facets), fine.Rounds)
	require.LessOrEqual(t, most, 1.5*tolerance, "between the places that were tried a little more")
	require.GreaterOrEqual(t, least, -1e-9, "nowhere less than is called for")
	for f, p := range fine.Parent {
		if strip[p] < 0 {
			continue
		}
		for k := range 3 {
			require.GreaterOrEqual(t, field[f][k], own[p]-1e-12)
		}
	}
	require.InEpsilon(t, m.Volume(), fine.Mesh.Volume(), 1e-13)

	// At a bound the worst are cut first, and it is said.
	some, err := refine.Run(context.Background(), m, m.Topology(), refine.Options{Allowance: allowance, Tolerance: tolerance, Least: 0.4, Most: 2 * len(m.Facets)})
	require.NoError(t, err)
	require.True(t, some.Stopped)
	require.LessOrEqual(t, len(some.Mesh.Facets), 2*len(m.Facets))
	require.Greater(t, len(some.Mesh.Facets), len(m.Facets))
	require.True(t, some.Topo.Closed())

	// So they are where the work is bounded, and by how much it is off at most.
	worked := 0
	counted := func(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (mesh.CornerField, mesh.CornerField, error) {
		worked += len(m.Facets)
		return allowance(ctx, m, topo, parent)
	}
	work := 5 * len(m.Facets)
	spare, err := refine.Run(context.Background(), m, m.Topology(), refine.Options{Allowance: counted, Tolerance: tolerance, Least: 0.4, Most: 100000, Work: work})
	require.NoError(t, err)
	require.True(t, spare.Stopped)
	require.True(t, spare.Topo.Closed())
	require.Greater(t, len(spare.Mesh.Facets), len(m.Facets))
	require.LessOrEqual(t, worked, work+len(spare.Mesh.Facets), "once more to tell what is left")
	_, field, err = allowance(context.Background(), spare.Mesh, spare.Topo, spare.Parent)
	require.NoError(t, err)
	most, _ = off(spare, field)
	t.Logf("off by %.2f um, %.2f told", 1e3*most, 1e3*spare.LeftMM)
	require.LessOrEqual(t, most, spare.LeftMM)
	require.Less(t, spare.LeftMM, 0.08, "all by which the allowance varies")
}

// An allowance that is linear over the facets, however steep, cuts none.
func TestLinearCutsNothing(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: 20, Z: 10})
	linear := func(_ context.Context, m *mesh.Mesh, _ *mesh.Topology, _ []int32) (mesh.CornerField, mesh.CornerField, error) {
		out := make(mesh.CornerField, len(m.Facets))
		for f := range out {
			for k := range 3 {
				p := m.Corner(f, k)
				out[f][k] = 0.3 + 0.01*p.X - 0.004*p.Y + 0.02*p.Z
			}
		}
		return out, out, nil
	}
	r, err := refine.Run(context.Background(), m, m.Topology(), refine.Options{Allowance: linear, Tolerance: 1e-9, Least: 0.1, Most: 1e6})
	require.NoError(t, err)
	require.Same(t, m, r.Mesh)
	require.Zero(t, r.Rounds)
	require.False(t, r.Stopped)
}
