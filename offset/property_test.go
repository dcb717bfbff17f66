package offset_test

import (
	"bytes"
	"flag"
	"math"
	"math/rand"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/part"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/region"
)

// seeds is how many random parts the properties are tested on; CI asks for 1,000.
var seeds = flag.Int("seeds", 12, "random parts of TestRandomParts")

// randomParts make parts of three kinds from a source of random numbers.
var randomParts = []struct {
	name string
	make func(r *rand.Rand) *mesh.Mesh
}{
	{"hull", randomHull},
	{"blob", randomBlob},
	{"boxes", randomBoxes},
}

func gauss(r *rand.Rand) r3.Vector {
	return r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}
}

// randomHull is the convex hull of points on an ellipsoid: edges and corners of any angle.
func randomHull(r *rand.Rand) *mesh.Mesh {
	var pts []r3.Vector
	for range 5 + r.Intn(14) {
		p := gauss(r).Normalize()
		pts = append(pts, r3.Vector{X: 6 * p.X, Y: 5 * p.Y, Z: 4 * p.Z})
	}
	return solid.Hull(pts)
}

// randomBlob is a voxel-born body of rods that run into each other with fillets.
func randomBlob(r *rand.Rand) *mesh.Mesh {
	var rods []solid.Body
	at := r3.Vector{}
	for range 2 + r.Intn(3) {
		next := gauss(r).Mul(2)
		rods = append(rods, solid.Strut(at, next, 0.8+r.Float64(), 0.8+r.Float64()))
		at = next
	}
	const reach = 9
	return solid.Implicit(solid.Blend(0.8, rods...), r3.Vector{X: -reach, Y: -reach, Z: -reach}, r3.Vector{X: reach, Y: reach, Z: reach}, 0.6+0.5*r.Float64())
}

// randomBoxes are turned boxes that overlap.
func randomBoxes(r *rand.Rand) *mesh.Mesh {
	var boxes []*mesh.Mesh
	for range 2 + r.Intn(3) {
		half := r3.Vector{X: 1 + 2*r.Float64(), Y: 1 + 2*r.Float64(), Z: 1 + 2*r.Float64()}
		turn := solid.Rotation{Axis: gauss(r), Angle: 3}
		boxes = append(boxes, solid.Move(solid.Box(half.Mul(-1), half), turn, gauss(r).Mul(0.8)))
	}
	return solid.Merge(boxes...)
}

// On random parts with random allowances: the grown surface is closed and free
// of crossings, no place lacks more than 1 um, a foreign look at the written file agrees,
// and more allowance gives more metal.
func TestRandomParts(t *testing.T) {
	for _, kind := range randomParts {
		t.Run(kind.name, func(t *testing.T) {
			for seed := range (*seeds + len(randomParts) - 1) / len(randomParts) {
				r := rand.New(rand.NewSource(int64(seed)))
				p := partOf(t, kind.make(r))
				fixed := map[region.Skin]float64{}
				for _, s := range []region.Skin{region.Upskin, region.Vertical, region.Downskin} {
					fixed[s] = 20 + 200*r.Float64()
				}
				checkRandomPart(t, seed, p, fixed, 1.1+r.Float64())
			}
		})
	}
}

func checkRandomPart(t *testing.T, seed int, p *part.Part, fixed map[region.Skin]float64, factor float64) {
	t.Helper()
	job := jobOf(t, fixed)
	job.Samples = 20_000 // the parts are small: one every few square hundredths of a mm
	res, err := offset.Compensate(t.Context(), p, job)
	require.NoError(t, err, "seed %d", seed)
	require.True(t, res.Grown.Topology().Closed(), "seed %d", seed)
	x, err := bvh.New(res.Grown, 0).SelfCrossings(t.Context(), bvh.CrossingOptions{})
	require.NoError(t, err)
	require.Zero(t, x.Total, "seed %d", seed)
	require.True(t, res.Proof.Within(), "seed %d: short by %g mm at %v, from the grown side %g mm at %v", seed,
		res.Proof.All.Shortfall.Max.Value, res.Proof.All.Shortfall.Max.At, res.Proof.GrownShortfall.Value, res.Proof.GrownShortfall.At)

	// What was written, read and proved again.
	var b bytes.Buffer
	require.NoError(t, stl.WriteBinary(&b, res.Grown, "grown"))
	grown, err := part.Read("grown.stl", &b, int64(b.Len()), part.Options{})
	require.NoError(t, err, "seed %d", seed)
	require.InEpsilon(t, res.GrownMM3, grown.Mesh.Volume(), 1e-9, "seed %d", seed)
	proof, err := offset.Verify(t.Context(), p, grown, job, 0.001)
	require.NoError(t, err, "seed %d", seed)
	require.True(t, proof.Proof.Within(), "seed %d: read again, short by %g mm, from the grown side %g mm", seed,
		proof.Proof.All.Shortfall.Max.Value, proof.Proof.GrownShortfall.Value)

	more := map[region.Skin]float64{}
	for s, um := range fixed {
		more[s] = factor * um
	}
	job.FixedUM = more
	bigger, err := offset.Compensate(t.Context(), p, job)
	require.NoError(t, err, "seed %d", seed)
	require.True(t, bigger.Proof.Within(), "seed %d, more: short by %g mm", seed, bigger.Proof.All.Shortfall.Max.Value)
	require.Greater(t, bigger.GrownMM3, res.GrownMM3, "seed %d: more allowance, less metal", seed)
	require.Greater(t, res.GrownMM3, math.Abs(res.Nominal.Volume()), "seed %d", seed)
}
