package arrange

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

// A patch around what meets, put back, is the surface that the whole gives, with
// the same report: faults in one place, in many, large regions that lie in other
// metal beyond the patch, bodies inside bodies, covers over a few facets, hollows.
func TestPatchGivesTheSame(t *testing.T) {
	ball := solid.Icosphere(4, 5)
	hollow := solid.Icosphere(3, 3)
	for f := range hollow.Facets {
		hollow.Facets[f][1], hollow.Facets[f][2] = hollow.Facets[f][2], hollow.Facets[f][1]
	}
	pricked := ball.Clone()
	for v := 0; v < len(pricked.Vertices); v += 997 { // through to the other side
		pricked.Vertices[v] = pricked.Vertices[v].Mul(-1.1)
	}
	folded := ball.Clone()
	for v := 0; v < len(folded.Vertices); v += 401 {
		folded.Vertices[v] = folded.Vertices[v].Add(vec(0.3, -0.2, 0.1))
	}
	beside := solid.Map(ball, func(p r3.Vector) r3.Vector { return p.Add(vec(3, 0.1, 0.2)) })
	covered := ball
	for i := range 5 {
		f := 3000 * i
		a, b, c := ball.Triangle(f)
		n := ball.FacetNormal(f).Mul(0.02)
		covered = solid.Merge(covered, solid.Tetrahedron(a.Sub(n), c.Sub(n), b.Sub(n), a.Add(n)))
	}
	require.Equal(t, 1, hinged(ball).Topology().NonManifoldEdges)
	for name, c := range map[string]struct {
		m      *mesh.Mesh
		voids  float64
		always bool // the patch does it
	}{
		"pricked":           {pricked, 0, true},
		"folded":            {folded, 1, true},
		"covered":           {covered, 0, true},
		"balls over":        {solid.Merge(ball, beside), 0, true},
		"balls and one in":  {solid.Merge(ball, beside, solid.Icosphere(0.4, 1)), 0, true},
		"one edge of four":  {hinged(pricked), 0, true},
		"hollow and folded": {solid.Merge(hollow, folded), 0.5, true},
		"bracket":           {averaged(solid.SmoothBracket(1.3), 0.1), math.Inf(1), true},
		"gyroid":            {averaged(solid.GyroidCube(1.2), 0.1), math.Inf(1), true},
		"lattice":           {averaged(solid.LatticeCube(1), 0.3), math.Inf(1), true},
		"cubes at a face":   {solid.Merge(solid.Box(vec(0, 0, 0), vec(4, 4, 4)), solid.Box(vec(4, 0, 0), vec(8, 4, 4))), 0, false},
		"chain":             {averaged(stltest.Welded(t, meshtest.Shared(t, "chain-40-links.stl"), 1), 0.4), 0.4, false},
	} {
		t.Run(name, func(t *testing.T) {
			c.m.RoundToFloat32()
			cs, err := bvh.New(c.m, 2).SelfCrossings(context.Background(), bvh.CrossingOptions{Workers: 2})
			require.NoError(t, err)
			opt := Options{Workers: 2, DropVoidsMM: c.voids, DropVoidsMM3: c.voids}
			want, all := resolve(t, c.m, opt)
			opt.Suspects = cs.Facets()
			got, rep, err := resolveNear(context.Background(), c.m, opt, 1)
			if !c.always && err == errFar {
				return
			}
			require.NoError(t, err)
			require.Equal(t, want, got)
			for i := range rep.Voids { // summed up in another order
				require.InEpsilon(t, all.Voids[i].VolumeMM3, rep.Voids[i].VolumeMM3, 1e-6)
				rep.Voids[i] = all.Voids[i]
			}
			require.Equal(t, all, rep)
		})
	}
}

// hinged returns m with two tetrahedra outside of it that have an edge in common.
func hinged(m *mesh.Mesh) *mesh.Mesh {
	one := solid.Tetrahedron(vec(20, 0, 0), vec(20, 0, 1), vec(21, 0, 0), vec(21, 1, 0))
	two := solid.Tetrahedron(vec(20, 0, 0), vec(20, 0, 1), vec(19, 0, 0), vec(19, -1, 0))
	out := solid.Merge(one, two, m)
	for f := range out.Facets {
		for k, v := range out.Facets[f] {
			if p := out.Vertices[v]; v < 8 && p.X == 20 {
				out.Facets[f][k] = int32(p.Z)
			}
		}
	}
	return out
}

// Every vertex is nudged its own way, those too that stand in one place because
// several fans share it: else fans that touch would go on touching.
func TestVerticesHaveNamesOfTheirOwn(t *testing.T) {
	m := hinged(solid.Merge(cube(0, 0, 0), cube(1, 1, 0), cube(0.5, 0.5, 0.5)))
	s, err := fromMesh(m)
	require.NoError(t, err)
	require.NoError(t, s.link())
	require.NotEmpty(t, s.doubled)
	distinct := func(s *surface) {
		seen := map[int32]bool{}
		for v, name := range s.name {
			require.False(t, seen[name], "vertex %d has the name of another", v)
			require.Less(t, name, s.named)
			seen[name] = true
		}
	}
	distinct(s)
	r := &resolver{s: s, opt: Options{}.withDefaults(s.largest(), len(m.Facets)), report: &Report{}}
	r.work.left.Store(1 << 40)
	r.cavity = make([]bool, len(m.Facets))
	require.NoError(t, r.run(context.Background(), m))
	require.Greater(t, r.s.named, s.named, "nothing was cut")
	require.Len(t, r.s.name, len(r.s.at))
	distinct(r.s)
}
