package arrange

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

// A slot of 0.3 mm whose walls grow by 0.2 mm each closes: the walls and the
// floor between them vanish. Closed form for a block of 10 x 6 x 4 with a slot
// 0.3 wide and 2.5 deep through its whole length.
func TestSlotClosedByGrowth(t *testing.T) {
	const d, w, deep = 0.2, 0.3, 2.5
	// Profile in x-z, run along y; vertices moved by hand so every wall moves by d exactly.
	profile := func(d float64) []r3.Vector {
		return []r3.Vector{
			vec(-5-d, 0, -d), vec(5+d, 0, -d), vec(5+d, 0, 4+d), vec(w/2-d, 0, 4+d),
			vec(w/2-d, 0, 4-deep+d), vec(-w/2+d, 0, 4-deep+d), vec(-w/2+d, 0, 4+d), vec(-5-d, 0, 4+d),
		}
	}
	m := prism(profile(0), -3, 3)
	require.InDelta(t, 240-w*deep*6, m.Volume(), 1e-9)
	g := prism(profile(d), -3-d, 3+d)
	g.Facets = m.Facets
	out, rep := resolve(t, g, Options{})
	require.Equal(t, 1, rep.ShellsOut)
	// The walls changed sides: between them the metal winds twice, and the union is the full block.
	require.InDelta(t, (10+2*d)*(6+2*d)*(4+2*d)+0.1*deep*(6+2*d), g.Volume(), 1e-9)
	want := (10 + 2*d) * (6 + 2*d) * (4 + 2*d)
	// The walls' rims lie in the planes of top and sides, which are nudged: 0.1 um over 300 mm2.
	require.InDelta(t, want, out.Volume(), 0.03)
	require.GreaterOrEqual(t, out.Volume(), want-roundMM3)
}

// prism returns the body between y0 and y1 over a polygon in x-z that runs
// counterclockwise seen from -y, cut into triangles by hand: eight corners as in TestSlotClosedByGrowth.
func prism(p []r3.Vector, y0, y1 float64) *mesh.Mesh {
	n := int32(len(p))
	m := &mesh.Mesh{}
	for _, y := range []float64{y0, y1} {
		for _, q := range p {
			m.Vertices = append(m.Vertices, vec(q.X, y, q.Z))
		}
	}
	for i := range n {
		j := (i + 1) % n
		m.Facets = append(m.Facets, [3]int32{i, j + n, j}, [3]int32{i, i + n, j + n})
	}
	for _, f := range [][3]int32{{0, 1, 4}, {0, 4, 5}, {1, 2, 3}, {1, 3, 4}, {0, 5, 6}, {0, 6, 7}} {
		m.Facets = append(m.Facets, f, [3]int32{f[0] + n, f[2] + n, f[1] + n})
	}
	return orient(m)
}

// orient turns the mesh so that its volume is positive.
func orient(m *mesh.Mesh) *mesh.Mesh {
	if m.Volume() < 0 {
		return solid.Reverse(m)
	}
	return m
}

// Voxel-born parts after the plain averaged move: folds, met walls, merged
// struts. Metal must be where the moved surface winds at least once, checked
// by solid angles at points near the crossings.
func TestVoxelBornPartsAfterPlainMove(t *testing.T) {
	for _, p := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"smooth bracket", solid.SmoothBracket(2.6)},
		{"lander bracket", solid.LanderBracket(2.9)},
		{"gyroid", solid.GyroidCube(2.4)},
		{"lattice", solid.LatticeCube(1.4)},
	} {
		t.Run(p.name, func(t *testing.T) {
			for _, d := range []float64{0.05, 0.2, 0.4} {
				g := averaged(p.m, d)
				out, rep := resolve(t, g, Options{Workers: 2})
				if rep.Crossings == 0 {
					require.Equal(t, 0.05, d, "the larger moves make crossings")
					continue
				}
				require.Greater(t, out.Volume(), p.m.Volume())
				// Beyond folds (0 and below) and overlaps (2 and above) nothing differs:
				// signed volume counts overlaps twice.
				require.LessOrEqual(t, out.Volume(), g.Volume()+g.Area()*1e-6+foldVolume(rep))
				requireSameMetal(t, g, out, rep.Places[:min(25, len(rep.Places))], 0.05)
			}
		})
	}
}

// foldVolume is generous: what folds of negative winding number take from the
// signed volume but not from the result.
func foldVolume(r *Report) float64 { return 1e-3 * float64(r.Crossings) }

// A crumpled ball crosses itself thousands of times, with winding numbers of either sign.
func TestCrumpledBall(t *testing.T) {
	m := noisy(solid.Icosphere(5, 3), 0.6, 3)
	out, rep := resolve(t, m, Options{})
	require.Greater(t, rep.Crossings, 500)
	requireSameMetal(t, m, out, rep.Places, 0.1)
}

func TestVoidsAreFilledOnlyWhenAskedFor(t *testing.T) {
	// A bowl with a lid that overlaps its rim closes a hollow that no input shell had.
	bowl := solid.Box(vec(0, 0, 0), vec(10, 10, 5))
	for _, b := range [][2]r3.Vector{ // walls
		{vec(0, 0, 4), vec(10, 1, 10)},
		{vec(0, 9, 4), vec(10, 10.5, 10)},
		{vec(-0.5, 0.5, 4.1), vec(1, 9.5, 10.1)},
		{vec(9, 0.6, 4.2), vec(10.7, 9.6, 10.2)},
	} {
		bowl = solid.Merge(bowl, solid.Box(b[0], b[1]))
	}
	m := solid.Merge(bowl, solid.Box(vec(-1, -1, 9), vec(11, 11, 12)))
	const hollow = 8 * 8 * 4
	const tol = 0.1 // some walls lie in one plane and are nudged: 0.1 um over 1000 mm2
	kept, rep := resolve(t, m, Options{})
	require.Equal(t, 2, rep.ShellsOut)
	require.Len(t, rep.Voids, 1)
	require.InDelta(t, hollow, rep.Voids[0].VolumeMM3, tol)
	require.InDelta(t, 3*hollow/256., rep.Voids[0].DepthMM, tol) // area 2*64 + 4*32
	require.False(t, rep.Voids[0].Dropped)

	filled, rep := resolve(t, m, Options{DropVoidsMM3: hollow + 1, DropVoidsMM: 4})
	require.Equal(t, 1, rep.ShellsOut)
	require.True(t, rep.Voids[0].Dropped)
	require.InDelta(t, hollow, filled.Volume()-kept.Volume(), tol)
}

// Over a thousand closed beams, some of them twice, become one solid. The
// union by an independent general-purpose library (npm manifold-3d 3, its decompose and union)
// has 23337.87 mm3. Coinciding caps and duplicate facets are nudged here, which adds 1.47 mm3
// for 0.05 um and in proportion: at no nudge the two agree within 1e-6.
func TestBeamLattice(t *testing.T) {
	m := stltest.Welded(t, meshtest.Shared(t, "voronoi-beam-lattice.stl"), 1)
	out, rep := resolveOnce(t, "beams", m)
	require.Equal(t, 1, rep.ShellsOut)
	require.InDelta(t, 23337.87+1.47, out.Volume(), 0.1)
	requireSameMetal(t, m, out, rep.Places[:min(12, len(rep.Places))], 0.3)
}

func TestChainLinksThatMeetAreJoined(t *testing.T) {
	m := stltest.Welded(t, meshtest.Shared(t, "chain-40-links.stl"), 1)
	out, rep := resolve(t, m, Options{})
	require.Equal(t, 40, rep.ShellsOut)
	require.InDelta(t, m.Volume(), out.Volume(), 1e-6*m.Volume())

	g := averaged(m, 0.4)
	out, rep = resolve(t, g, Options{})
	require.Less(t, rep.ShellsOut, 40)
	require.Less(t, out.Volume(), g.Volume())
	require.False(t, math.IsNaN(out.Area()))
}
