package grow

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// planesOf draws planes around a vertex: normals within an open half-space
// about a random axis, allowances apart by up to a factor of 30, some planes
// almost alike.
func planesOf(t *rapid.T) []plane {
	rnd := rand.New(rand.NewSource(rapid.Int64().Draw(t, "seed")))
	n := rapid.IntRange(1, 14).Draw(t, "planes")
	spread := rapid.Float64Range(0.01, 1.2).Draw(t, "spread")
	axis := v(rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()).Normalize()
	var ps []plane
	for range n {
		d := axis.Add(v(rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()).Normalize().Mul(spread * rnd.Float64()))
		if rnd.Intn(4) == 0 && len(ps) > 0 {
			d = ps[rnd.Intn(len(ps))].n.Add(v(rnd.NormFloat64(), rnd.NormFloat64(), 0).Mul(1e-7))
		}
		ps = append(ps, plane{d.Normalize(), 0.01 + 0.3*rnd.Float64()*float64(rnd.Intn(2))})
	}
	return ps
}

// bruteForce is the answer by trying every set of up to three planes.
func bruteForce(ps []plane, tol float64) (r3.Vector, bool) {
	best, found := r3.Vector{X: math.Inf(1)}, false
	try := func(d r3.Vector, ok bool) {
		if _, missing := lack(ps, d); ok && missing <= tol && d.Norm2() < best.Norm2() {
			best, found = d, true
		}
	}
	for i := range ps {
		try(ps[i].n.Mul(ps[i].a), true)
		for j := range i {
			try(onTwo(&ps[i], &ps[j]))
			for k := range j {
				try(onThree(&ps[i], &ps[j], &ps[k]))
			}
		}
	}
	return best, found
}

// The search agrees with trying all sets of planes, and its answer is the
// least: it is a sum of normals with weights of no less than zero (Karush,
// Kuhn and Tucker), found here by an independent projection.
func TestLeastMoveIsTheLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ps := planesOf(t)
		a := largest(ps)
		d, out := least(ps, 1e6*a)
		want, ok := bruteForce(ps, feasible*a)
		if !ok {
			require.NotEqual(t, solved, out)
			return
		}
		require.Equal(t, solved, out)
		_, missing := lack(ps, d)
		require.LessOrEqual(t, missing, 1e-9*a)
		// Planes that lack up to the tolerance leave the length free by as much over the sine.
		require.InDelta(t, want.Norm(), d.Norm(), 1e-6*want.Norm())
	})
}

// hildreth solves the same problem over its multipliers, one plane at a time
// (Hildreth 1957): slow, and of another kind altogether.
func hildreth(ps []plane) r3.Vector {
	var d r3.Vector
	w := make([]float64, len(ps))
	for range 20000 {
		for i, p := range ps {
			step := max(p.a-p.n.Dot(d), -w[i])
			w[i] += step
			d = d.Add(p.n.Mul(step))
		}
	}
	return d
}

func TestLeastMoveAgainstHildreth(t *testing.T) {
	rnd := rand.New(rand.NewSource(7))
	for range 40 {
		var ps []plane
		for range 3 + rnd.Intn(6) {
			n := v(rnd.NormFloat64()*0.8, rnd.NormFloat64()*0.8, 1).Normalize()
			ps = append(ps, plane{n, 0.02 + 0.2*rnd.Float64()})
		}
		d, out := least(ps, 100)
		require.Equal(t, solved, out)
		// The slow way converges with the sine between the planes.
		require.InDelta(t, 0, d.Distance(hildreth(ps)), 1e-6)
	}
}

func randomHull(t *rapid.T) *mesh.Mesh {
	rnd := rand.New(rand.NewSource(rapid.Int64().Draw(t, "seed")))
	var pts []r3.Vector
	for range rapid.IntRange(4, 20).Draw(t, "points") {
		p := v(rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()).Normalize()
		pts = append(pts, v(5*p.X, 4*p.Y, 3*p.Z))
	}
	return solid.Hull(pts)
}

func TestGrownHulls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := randomHull(t)
		topo := m.Topology()
		require.True(t, topo.Closed())
		if m.Volume() < 5 {
			t.Skip("a hull so flat that a mitre is longer than any limit")
		}
		rnd := rand.New(rand.NewSource(3))
		a, more := make([]float64, len(m.Facets)), make([]float64, len(m.Facets))
		for f := range a {
			a[f] = 0.2 * rnd.Float64()
			more[f] = a[f] + 0.1*rnd.Float64()
		}
		opt := Options{MitreLimit: 1000, FeatureAngle: 1e-6} // every edge is sharp
		r, err := Grow(context.Background(), m, topo, a, opt)
		require.NoError(t, err)
		g := m.WithVertices(r.Vertices)
		for f := range m.Facets {
			n := m.FacetNormal(f)
			for k := range 3 {
				d := g.Corner(f, k).Sub(m.Corner(f, k))
				require.GreaterOrEqual(t, n.Dot(d), a[f]-1e-9*0.3, "facet %d lacks stock", f)
			}
		}
		require.Empty(t, r.Needles)
		r2, err := Grow(context.Background(), m, topo, more, opt)
		require.NoError(t, err)
		require.Greater(t, m.WithVertices(r2.Vertices).Volume(), g.Volume(), "more allowance, less metal")
	})
}

func TestZeroAllowanceKeepsEveryBit(t *testing.T) {
	m := solid.Torus(10, 3, 20, 12)
	m.Vertices[0].Z = math.Copysign(0, -1)
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0), Options{})
	require.NoError(t, err)
	for i := range m.Vertices {
		for _, p := range [][2]float64{{m.Vertices[i].X, r.Vertices[i].X}, {m.Vertices[i].Y, r.Vertices[i].Y}, {m.Vertices[i].Z, r.Vertices[i].Z}} {
			require.Equal(t, math.Float64bits(p[0]), math.Float64bits(p[1]))
		}
	}
}

func TestRotatingPartAndDirectionTogether(t *testing.T) {
	m := solid.Torus(10, 3, 60, 36)
	a := bySkin(t, m, 0.05, 0.08, 0.15)
	rot := solid.Rotation{Axis: v(1, 2, 3), Angle: 0.7}
	turned := solid.Move(m, rot, v(5, 0, 0))
	g := grown(t, m, a, Options{})
	h := grown(t, turned, a, Options{})
	for i := range g.Vertices {
		require.InDelta(t, 0, rot.Apply(g.Vertices[i]).Add(v(5, 0, 0)).Distance(h.Vertices[i]), 1e-6)
	}
}

func TestSameBytesForAnyWorkers(t *testing.T) {
	m := solid.Icosphere(10, 6)
	a := bySkin(t, m, 0.05, 0.08, 0.15)
	one, err := Grow(context.Background(), m, m.Topology(), a, Options{Workers: 1})
	require.NoError(t, err)
	for _, w := range []int{2, 7} {
		r, err := Grow(context.Background(), m, m.Topology(), a, Options{Workers: w})
		require.NoError(t, err)
		require.Equal(t, one, r)
	}
}

// A spike whose mitre is longer than the limit is cut off and reported.
func TestNeedleIsCappedAndReported(t *testing.T) {
	m := solid.Cone(0.5, 10, 24)
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.1), Options{MitreLimit: 4})
	require.NoError(t, err)
	require.Len(t, r.Needles, 1)
	n := r.Needles[0]
	require.InDelta(t, 0, n.At.Distance(v(0, 0, 10)), 1e-12)
	require.InDelta(t, 0, r.Vertices[n.Vertex].Distance(v(0, 0, 10.4)), 1e-9)
	// Half angle s of the facets: n.z = sin s, so 0.1 - 0.4 sin s is missing.
	apothem := 0.5 * math.Cos(math.Pi/24)
	require.InDelta(t, 0.1-0.4*apothem/math.Hypot(apothem, 10), n.MissingMM, 1e-9)
	require.InDelta(t, 0.1, n.AskedMM, 0)
	require.False(t, n.Kept)
}

// Two facets back to back leave no half-space: the vertex stays within the limit, reported.
func TestFoldIsReported(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []r3.Vector{v(0, 0, 0), v(1, 0, 0), v(0, 1, 0)},
		Facets:   [][3]int32{{0, 1, 2}, {0, 2, 1}},
	}
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.1), Options{})
	require.NoError(t, err)
	require.Len(t, r.Needles, 3)
	for _, n := range r.Needles {
		require.GreaterOrEqual(t, n.MissingMM, 0.1-1e-12)
		require.LessOrEqual(t, r.Vertices[n.Vertex].Distance(n.At), 0.4)
	}
}

// A facet of no area across a box edge must not bend the mitre, and a vertex
// that has only such facets goes where its neighbour goes.
func TestFlatFacetsDoNotConstrain(t *testing.T) {
	m := solid.Box(v(0, 0, 0), v(20, 10, 5))
	want := grown(t, m, filled(m, 0.1), Options{})
	for k := range 3 { // a cap of no height on each edge of facet 0
		c := m.Facets[0]
		a, b := c[k], c[(k+1)%3]
		m.Facets = append(m.Facets, [3]int32{a, b, int32(len(m.Vertices))})
		m.Vertices = append(m.Vertices, m.Vertices[a].Add(m.Vertices[b]).Mul(0.5).Add(v(1e-9, 0, 1e-9)))
	}
	g := grown(t, m, filled(m, 0.1), Options{})
	for i := range want.Vertices {
		require.InDelta(t, 0, g.Vertices[i].Distance(want.Vertices[i]), 1e-12)
	}
	for i := len(want.Vertices); i < len(g.Vertices); i++ {
		require.Greater(t, g.Vertices[i].Distance(m.Vertices[i]), 0.1)
	}
}

func TestWrongInput(t *testing.T) {
	m := solid.Box(v(0, 0, 0), v(1, 1, 1))
	topo := m.Topology()
	ctx := context.Background()
	for _, a := range []float64{-0.1, math.NaN(), math.Inf(1)} {
		_, err := Grow(ctx, m, topo, filled(m, a), Options{})
		require.ErrorIs(t, err, ErrAllowance)
	}
	_, err := Grow(ctx, m, topo, nil, Options{})
	require.Error(t, err)
	for _, o := range []Options{
		{MaxSlope: -1},
		{MitreLimit: 0.5},
		{FeatureAngle: 200 * s1.Degree},
		{Keep: make([]bool, 1)},
		{MaxSlope: math.NaN()},
	} {
		_, err := Grow(ctx, m, topo, filled(m, 0.1), o)
		require.Error(t, err)
	}
	done, cancel := context.WithCancel(ctx)
	cancel()
	_, err = Grow(done, m, topo, filled(m, 0.1), Options{})
	require.ErrorIs(t, err, context.Canceled)
}

func BenchmarkGrow(b *testing.B) {
	for _, level := range []int{3, 6, 8} {
		m := solid.Icosphere(20, level)
		topo := m.Topology()
		for name, a := range map[string][]float64{"uniform": filled(m, 0.1), "skins": bySkin(b, m, 0.05, 0.08, 0.15)} {
			b.Run(fmt.Sprintf("%d vertices %s", len(m.Vertices), name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Grow(context.Background(), m, topo, a, Options{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
