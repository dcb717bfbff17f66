package grow

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// finePlate is a box of 20 x 20 x 2 whose facets are halved until they are
// about 0.3 mm long: a smooth face to spread over, and sharp edges around it.
func finePlate() *mesh.Mesh {
	m := solid.Box(v(-10, -10, 0), v(10, 10, 2))
	for range 6 {
		m = solid.Halve(m)
	}
	return m
}

// plateField grows the plate with 0.3 on the upper face inside a radius of 3,
// 0.1 elsewhere on it and 0.05 on all other faces.
func plateField(t *testing.T, opt Options) (*mesh.Mesh, *Result) {
	m := finePlate()
	a := filled(m, 0.05)
	for f := range m.Facets {
		if m.FacetNormal(f).Z > 0.5 {
			a[f] = 0.1
			if c := centre(m, f); math.Hypot(c.X, c.Y) < 3 {
				a[f] = 0.3
			}
		}
	}
	r, err := Grow(context.Background(), m, m.Topology(), a, opt)
	require.NoError(t, err)
	require.Empty(t, r.Needles)
	return m, r
}

func centre(m *mesh.Mesh, f int) r3.Vector {
	a, b, c := m.Triangle(f)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// Around a disc of larger allowance the field is a cone frustum of the slope.
func TestSlopeOverSmoothFace(t *testing.T) {
	const slope = 0.1
	m, r := plateField(t, Options{MaxSlope: slope})
	for f := range m.Facets {
		top := m.FacetNormal(f).Z > 0.5
		for k, a := range r.Allowance[f] {
			if !top {
				require.Equal(t, 0.05, a, "nothing spreads across a sharp edge")
				continue
			}
			p := m.Corner(f, k)
			want := min(0.3, max(0.1, 0.3-slope*(math.Hypot(p.X, p.Y)-3)))
			// The disc's rim follows facets of 0.31 mm, and the spreading front bends
			// the straight way by a hundredth: 0.35 mm of place, 0.035 mm of value.
			require.InDelta(t, want, a, slope*0.45)
		}
		if top {
			// Right at a corner of the rim the field is a cone, which a right-angled
			// facet carries at up to sqrt 2 of its slope; further out the front straightens.
			limit := slope * math.Sqrt2
			if c := centre(m, f); math.Hypot(c.X, c.Y) > 4.5 {
				limit = 1.1 * slope
			}
			require.LessOrEqual(t, slopeOf(m, f, r.Allowance[f]), limit, "facet %d", f)
		}
	}
}

// slopeOf is the gradient of a corner field inside facet f.
func slopeOf(m *mesh.Mesh, f int, a [3]float64) float64 {
	p, q, r := m.Triangle(f)
	e, g := q.Sub(p), r.Sub(p)
	n := e.Cross(g)
	grad := n.Cross(e).Mul(a[2] - a[0]).Add(g.Cross(n).Mul(a[1] - a[0])).Mul(1 / n.Norm2())
	return grad.Norm()
}

// Every facet has its own allowance at least, and on the plate the box rule
// still holds at the sharp edges.
func TestSpreadNeverTakesStock(t *testing.T) {
	m, r := plateField(t, Options{MaxSlope: 0.1})
	lo, hi := m.WithVertices(r.Vertices).Bounds()
	require.InDelta(t, 0, lo.Sub(v(-10.05, -10.05, -0.05)).Norm(), 1e-12)
	require.InDelta(t, 0, hi.Sub(v(10.05, 10.05, 2.3)).Norm(), 1e-12)
	for f := range m.Facets {
		n := m.FacetNormal(f)
		for k, a := range r.Allowance[f] {
			p := m.Facets[f][k]
			require.GreaterOrEqual(t, n.Dot(r.Vertices[p].Sub(m.Vertices[p])), a-1e-10)
		}
	}
}

// With one allowance everywhere nothing is spread, and the field is that value.
func TestUniformFieldIsLeftAlone(t *testing.T) {
	m := solid.Icosphere(5, 3)
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.1), Options{})
	require.NoError(t, err)
	for _, a := range r.Allowance {
		require.Equal(t, [3]float64{0.1, 0.1, 0.1}, a)
	}
}

// A kept disc stays in place to the bit; its neighbours rise from there with
// the slope and carry the full allowance beyond.
func TestKeptDisc(t *testing.T) {
	const slope = 0.2
	m := finePlate()
	keep := make([]bool, len(m.Facets))
	for f := range m.Facets {
		c := centre(m, f)
		keep[f] = m.FacetNormal(f).Z > 0.5 && math.Hypot(c.X, c.Y) < 3
	}
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{MaxSlope: slope, Keep: keep})
	require.NoError(t, err)
	require.Empty(t, r.Needles)
	for f := range m.Facets {
		for k, p := range m.Facets[f] {
			switch d := math.Hypot(m.Vertices[p].X, m.Vertices[p].Y); {
			case keep[f]:
				require.Equal(t, m.Vertices[p], r.Vertices[p])
				require.Zero(t, r.Allowance[f][k])
			case m.FacetNormal(f).Z > 0.5 && d > 3+0.2/slope+0.35:
				require.Equal(t, 0.2, r.Allowance[f][k])
			case m.FacetNormal(f).Z > 0.5:
				require.LessOrEqual(t, r.Allowance[f][k], slope*(d-3+0.35)+1e-12)
				// Right at a corner of the rim the field is a cone, which a right-angled
				// facet carries at up to sqrt 2 of its slope.
				require.LessOrEqual(t, slopeOf(m, f, r.Allowance[f]), math.Sqrt2*slope)
			}
		}
	}
}

// A kept face with sharp edges stays in its plane while its neighbours take
// their full allowance, also where the faces meet at 60 and 120 degrees.
func TestKeptFaceSlidesInItsPlane(t *testing.T) {
	hex := make([]r3.Vector, 6)
	for i := range hex {
		s, c := math.Sincos(float64(i) * math.Pi / 3)
		hex[i] = v(10*c, 10*s, 0)
	}
	wedge := []r3.Vector{v(0, 0, 0), v(10, 0, 0), v(5, 5*math.Sqrt(3), 0)}
	for _, m := range []*mesh.Mesh{solid.Extrude(hex, v(0, 0, 0), 4), solid.Extrude(wedge, v(5, 3, 0), 4)} {
		n0 := m.FacetNormal(0)
		side := func(n r3.Vector) bool { return n.Distance(n0) < 1e-9 }
		keep := make([]bool, len(m.Facets))
		for f := range m.Facets {
			keep[f] = side(m.FacetNormal(f))
		}
		r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.1), Options{Keep: keep})
		require.NoError(t, err)
		require.Empty(t, r.Needles)
		for f := range m.Facets {
			for _, p := range m.Facets[f] {
				out := m.FacetNormal(f).Dot(r.Vertices[p].Sub(m.Vertices[p]))
				if keep[f] {
					require.InDelta(t, 0, out, 1e-12)
				} else {
					require.GreaterOrEqual(t, out, 0.1-1e-10)
				}
			}
		}
	}
}

// What there is room for takes the place of what is called for, after the slope rule,
// and moves the vertices.
func TestLimitLowersTheField(t *testing.T) {
	m := solid.Box(v(0, 0, 0), v(4, 4, 2))
	limit := func(_ context.Context, wanted mesh.CornerField) (mesh.CornerField, error) {
		require.Equal(t, mesh.UniformPerFacet(filled(m, 0.2)), wanted)
		out := append(mesh.CornerField(nil), wanted...)
		for f := range out {
			if m.FacetNormal(f).X > 0.5 {
				out[f] = [3]float64{0.05, 0.05, 0.05}
			}
		}
		return out, nil
	}
	r, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{Limit: limit})
	require.NoError(t, err)
	lo, hi := m.WithVertices(r.Vertices).Bounds()
	require.InDelta(t, -0.2, lo.X, 1e-12)
	require.InDelta(t, 4.05, hi.X, 1e-12)
	require.InDelta(t, 4.2, hi.Y, 1e-12)
	for f := range m.Facets {
		want := 0.2
		if m.FacetNormal(f).X > 0.5 {
			want = 0.05
		}
		require.Equal(t, [3]float64{want, want, want}, r.Allowance[f])
	}
	fail := errors.New("no room")
	_, err = Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{
		Limit: func(context.Context, mesh.CornerField) (mesh.CornerField, error) { return nil, fail },
	})
	require.ErrorIs(t, err, fail)
}
