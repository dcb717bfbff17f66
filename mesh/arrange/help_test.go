package arrange

import (
	"context"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
)

func vec(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// resolve runs Resolve and checks what must hold of every result.
func resolve(t require.TestingT, m *mesh.Mesh, opt Options) (*mesh.Mesh, *Report) {
	before := m.Clone()
	out, rep, err := Resolve(context.Background(), m, opt)
	require.NoError(t, err)
	require.Equal(t, before.Vertices, m.Vertices, "the input was changed")
	require.Equal(t, before.Facets, m.Facets, "the input was changed")
	requireSound(t, out)
	requireMaps(t, m, out, rep)
	return out, rep
}

// resolved keeps what resolveOnce returned.
var resolved = map[string]struct {
	out *mesh.Mesh
	rep *Report
}{}

// resolveOnce resolves with two workers, once for all tests that call the mesh by the same name.
func resolveOnce(t require.TestingT, name string, m *mesh.Mesh) (*mesh.Mesh, *Report) {
	r, ok := resolved[name]
	if !ok {
		r.out, r.rep = resolve(t, m, Options{Workers: 2})
		resolved[name] = r
	}
	return r.out, r.rep
}

// requireSound checks closedness, manifoldness, single precision, distinct
// vertices and the absence of contacts.
func requireSound(t require.TestingT, m *mesh.Mesh) {
	require.True(t, m.Topology().Closed())
	seen := make(map[r3.Vector]bool, len(m.Vertices))
	for _, v := range m.Vertices {
		if v != vec(float64(float32(v.X)), float64(float32(v.Y)), float64(float32(v.Z))) {
			require.Fail(t, "not in single precision")
		}
		if seen[v] {
			require.Fail(t, "two vertices at one place")
		}
		seen[v] = true
	}
	s, err := fromMesh(m)
	require.NoError(t, err)
	require.NoError(t, s.link())
	require.Len(t, s.at, len(m.Vertices), "a vertex joins several fans")
	cs, err := newTree(s).contacts(context.Background(), 2)
	require.NoError(t, err)
	require.Empty(t, cs)
	// The same by code that shares nothing with this package.
	other, err := bvh.New(m, 2).SelfCrossings(context.Background(), bvh.CrossingOptions{Workers: 2})
	require.NoError(t, err)
	require.Zero(t, other.Total, "bvh finds facets that meet: %v", other.Pairs)
	require.Zero(t, other.NoArea)
}

// requireMaps checks the report's maps: vertices kept are where they were (or
// within the largest move told), and every piece lies in the plane of its facet.
func requireMaps(t require.TestingT, m, out *mesh.Mesh, rep *Report) {
	require.Len(t, rep.Facet, len(out.Facets))
	require.Len(t, rep.Vertex, len(out.Vertices))
	require.Len(t, out.Source, len(out.Facets))
	moved := 0
	for v, src := range rep.Vertex {
		if src < 0 {
			continue
		}
		d := out.Vertices[v].Sub(m.Vertices[src]).Norm()
		if d > 1e-6*(1+m.Vertices[src].Norm()) { // rounding to single precision is no move
			moved++
		}
		if d > rep.MaxMoveMM+1e-6*(1+m.Vertices[src].Norm()) {
			require.Failf(t, "moved", "vertex %d moved by %g mm, told %g", src, d, rep.MaxMoveMM)
		}
	}
	require.LessOrEqual(t, moved, rep.VerticesMoved)
	last := int32(-1)
	for f, p := range rep.Facet {
		if p < last {
			require.Fail(t, "facets out of order")
		}
		last = p
		if out.SourceOf(f) != m.SourceOf(int(p)) {
			require.Fail(t, "source and facet map disagree")
		}
	}
}

// windingAt returns the winding number of a point by the solid angles of all
// facets (van Oosterom and Strackee 1983): nothing that Resolve uses. Points
// within about 1e-9 mm of the surface have none.
func windingAt(m *mesh.Mesh, p r3.Vector) float64 {
	sum := 0.0
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		a, b, c = a.Sub(p), b.Sub(p), c.Sub(p)
		la, lb, lc := a.Norm(), b.Norm(), c.Norm()
		sum += 2 * math.Atan2(a.Dot(b.Cross(c)), la*lb*lc+a.Dot(b)*lc+b.Dot(c)*la+c.Dot(a)*lb)
	}
	return sum / (4 * math.Pi)
}

// requireSameMetal compares winding numbers at points beside the surfaces:
// metal in the result is exactly where the input winds at least once. The
// points lie step mm off facets, far enough that merging and nudging (below 1 um) cannot matter.
func requireSameMetal(t *testing.T, in, out *mesh.Mesh, places []r3.Vector, step float64) {
	t.Helper()
	inside, outside := 0, 0
	for i, p := range places {
		r := mix(uint64(i))
		d := vec(float64(r&1023)/512-1, float64(r>>10&1023)/512-1, float64(r>>20&1023)/512-1)
		p = p.Add(d.Mul(step))
		a, b := windingAt(in, p), windingAt(out, p)
		require.InDelta(t, math.Round(a), a, 1e-6)
		require.InDelta(t, math.Round(b), b, 1e-6)
		want := 0.0
		if math.Round(a) >= 1 {
			want = 1
			inside++
		} else {
			outside++
		}
		if want != math.Round(b) && nearSurface(in, p) < 0.001 {
			continue // within what merging may move
		}
		require.Equal(t, want, math.Round(b), "at %v: input winds %g times, output %g", p, a, b)
	}
	require.Positive(t, inside)
	require.Positive(t, outside)
}

// nearSurface returns the distance from p to the nearest facet by looking at all.
func nearSurface(m *mesh.Mesh, p r3.Vector) float64 {
	best := math.Inf(1)
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		best = math.Min(best, triangleDistance(p, a, b, c))
	}
	return best
}

func triangleDistance(p, a, b, c r3.Vector) float64 {
	n := b.Sub(a).Cross(c.Sub(a)).Normalize()
	q := p.Sub(n.Mul(p.Sub(a).Dot(n)))
	in := true
	best := math.Inf(1)
	for _, e := range [3][2]r3.Vector{{a, b}, {b, c}, {c, a}} {
		d := e[1].Sub(e[0])
		if d.Cross(q.Sub(e[0])).Dot(n) < 0 {
			in = false
		}
		s := math.Max(0, math.Min(1, p.Sub(e[0]).Dot(d)/d.Norm2()))
		best = math.Min(best, p.Sub(e[0].Add(d.Mul(s))).Norm())
	}
	if in {
		return math.Abs(p.Sub(a).Dot(n))
	}
	return best
}

// averaged moves every vertex by d along its area-weighted normal: the plain
// move that makes voxel-born parts cross themselves.
func averaged(m *mesh.Mesh, d float64) *mesh.Mesh {
	n := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		a := m.AreaNormal(f)
		for _, v := range t {
			n[v] = n[v].Add(a)
		}
	}
	for i, v := range m.Vertices {
		n[i] = v.Add(n[i].Normalize().Mul(d))
	}
	return m.WithVertices(n)
}

// noisy moves every vertex by a normal deviate of deviation a mm in each axis.
func noisy(m *mesh.Mesh, a float64, seed uint64) *mesh.Mesh {
	r := seed
	uniform := func() float64 {
		r = mix(r)
		return (float64(r>>11) + 0.5) * 0x1p-53
	}
	normal := func() float64 { return math.Sqrt(-2*math.Log(uniform())) * math.Cos(2*math.Pi*uniform()) }
	return solid.Map(m, func(p r3.Vector) r3.Vector { return p.Add(vec(normal(), normal(), normal()).Mul(a)) })
}
