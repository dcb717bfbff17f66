package offset_test

import (
	"bytes"
	"context"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/offset/verify"
	"skinstock/region"
)

// unequal are the allowances of references.md 7.2, um: chosen so that no two
// skins can be taken for each other.
var unequal = map[region.Skin]float64{region.Upskin: 50, region.Downskin: 150, region.Vertical: 80}

func jobOf(t testing.TB, fixedUM map[region.Skin]float64) offset.Job {
	t.Helper()
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	return offset.Job{Recipe: r, BuildDir: r3.Vector{Z: 1}, FixedUM: fixedUM}
}

// The box 20 x 10 x 5 with upskin 0.05, downskin 0.15 and sides 0.08 mm grows to
// 20.16 x 10.16 x 5.2 mm (references.md 7.2), here by way of files in single
// precision, which hold 20 mm to 1e-6.
func TestBoxWithUnequalSkins(t *testing.T) {
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})), jobOf(t, unequal))
	require.NoError(t, err)
	require.InEpsilon(t, 1065.09312, res.GrownMM3, 1e-6)
	lo, hi := res.Grown.Bounds()
	require.InDelta(t, -0.15, lo.Z, 1e-6)
	require.InDelta(t, 5.05, hi.Z, 1e-6)
	require.Zero(t, res.Proof.All.Shortfall.Max.Value)
	require.Nil(t, res.NominalOf, "facet i is facet i")
}

// Turning the part and the build direction together changes neither skins nor
// volumes beyond what single precision of turned coordinates leaves.
func TestTurningPartAndDirectionTogether(t *testing.T) {
	box := solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})
	rot := solid.Rotation{Axis: r3.Vector{X: 1, Y: 2, Z: 3}, Angle: 1.1 * s1.Radian}
	job := jobOf(t, unequal)
	job.BuildDir = rot.Apply(job.BuildDir)
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Move(box, rot, r3.Vector{X: 7})), job)
	require.NoError(t, err)
	require.InEpsilon(t, 1065.09312, res.GrownMM3, 1e-6)
}

// Reversing the build direction swaps upskin and downskin.
func TestReversingTheBuildDirection(t *testing.T) {
	job := jobOf(t, unequal)
	job.BuildDir = r3.Vector{Z: -1}
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5})), job)
	require.NoError(t, err)
	lo, hi := res.Grown.Bounds()
	require.InDelta(t, -0.05, lo.Z, 1e-6)
	require.InDelta(t, 5.15, hi.Z, 1e-6)
}

// Voxel-born parts, full of slivers: the result is closed, free of crossings by
// the exact test, nowhere short of stock by more than 1 um, and the same bytes
// whatever the number of workers; every facet is told to be, or to lie at, one of the part's, in their order.
func TestVoxelBornParts(t *testing.T) {
	type kind struct {
		name  string
		heavy bool // thousands of cuts: the numbers of workers are compared with -heavy only
		m     *mesh.Mesh
		um    []float64
	}
	kinds := []kind{
		{"bracket", false, solid.SmoothBracket(2.2), []float64{50, 150}},
		{"gyroid", true, solid.GyroidCube(3), []float64{50}},
		{"lattice", false, solid.LatticeCube(1.8), []float64{50, 150}},
		{"two boxes that overlap", false, solid.Merge(solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 4, Z: 4}), solid.Box(r3.Vector{X: 2, Y: 1, Z: 1}, r3.Vector{X: 6, Y: 3, Z: 3})), []float64{50, 150}},
	}
	if *late || *heavy { // nine of ten facets are pieces
		kinds = append(kinds, kind{"finer gyroid", true, solid.GyroidCube(2), []float64{50}})
	}
	if *heavy {
		kinds = append(kinds, kind{"fine lattice", true, solid.LatticeCube(0.9), []float64{400}})
	}
	for _, c := range kinds {
		for _, um := range c.um {
			t.Run(c.name, func(t *testing.T) {
				p := partOf(t, c.m)
				var first []byte
				counts := []int{8, 1, 2}
				if c.heavy && !*heavy {
					counts = counts[:1]
				}
				for _, workers := range counts {
					job := jobOf(t, map[region.Skin]float64{region.Upskin: um, region.Vertical: um, region.Downskin: um})
					job.Workers = workers
					res, err := offset.Compensate(context.Background(), p, job)
					require.NoError(t, err)
					var b bytes.Buffer
					require.NoError(t, stl.WriteBinary(&b, res.Grown, "x"))
					if first != nil {
						require.True(t, bytes.Equal(first, b.Bytes()), "%d workers give other bytes", workers)
						continue
					}
					first = b.Bytes()
					require.True(t, res.Grown.Topology().Closed())
					crossings, err := bvh.New(res.Grown, 2).SelfCrossings(context.Background(), bvh.CrossingOptions{})
					require.NoError(t, err)
					require.Zero(t, crossings.Total)
					require.Greater(t, res.GrownMM3, res.Nominal.Volume())
					carries(t, res, everySkin(um))
					// What was proved while the surface changed is what a proof of the last one finds.
					again, err := verify.Verify(context.Background(), res.Nominal, res.Grown, res.Allowance, verify.Options{Workers: workers})
					require.NoError(t, err)
					require.InDelta(t, again.All.Shortfall.Max.Value, res.Proof.All.Shortfall.Max.Value, verify.Resolution)
					require.InDelta(t, again.GrownShortfall.Value, res.Proof.GrownShortfall.Value, verify.Resolution)
					require.True(t, res.Proof.Within(), "short by %g mm, from the grown side %g mm", res.Proof.All.Shortfall.Max.Value, res.Proof.GrownShortfall.Value)
					if *late || *heavy {
						denserAgrees(t, res, 500_000)
					}
					if res.NominalOf != nil {
						require.Len(t, res.NominalOf, len(res.Grown.Facets))
						require.True(t, slices.IsSorted(res.NominalOf))
					}
					t.Logf("%s %g um: short by at most %.2f um in %d places, %d of %d facets are pieces", c.name, um,
						1000*res.Proof.All.Shortfall.Max.Value, res.Proof.PlaceCount, res.Rebuilt, len(res.Grown.Facets))
				}
			})
		}
	}
}

// BenchmarkCompensate is the whole job on a smooth bracket of about 100,000 facets.
func BenchmarkCompensate(b *testing.B) {
	p := partOf(b, solid.SmoothBracket(0.77))
	full := jobOf(b, nil)
	crossings, unchecked := full, full
	crossings.NoVerify, unchecked.Unchecked = true, true
	for name, job := range map[string]offset.Job{"full": full, "crossings": crossings, "unchecked": unchecked} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := offset.Compensate(context.Background(), p, job); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
