package grow

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/offset/verify"
)

// Around one kept facet of an uneven mesh of a plane no front over a facet whose other
// corners are limited would lower a corner further.
func TestLimitAroundOneFacetOfAnUnevenMesh(t *testing.T) {
	const slope = 0.05
	m, r := finePlate(), rand.New(rand.NewPCG(1, 1))
	for i, p := range m.Vertices {
		m.Vertices[i] = p.Add(v(0.14*(r.Float64()-0.5), 0.14*(r.Float64()-0.5), 0))
	}
	keep := make([]bool, len(m.Facets))
	one, best := 0, math.Inf(1)
	for f := range m.Facets {
		if d := centre(m, f).Distance(v(0, 0, 2)); d < best {
			one, best = f, d
		}
	}
	keep[one] = true
	g, err := Grow(context.Background(), m, m.Topology(), filled(m, 0.2), Options{MaxSlope: slope, Keep: keep})
	require.NoError(t, err)
	limited := 0
	for f, w := range g.Allowance {
		for k := range 3 {
			i, j := (k+1)%3, (k+2)%3
			if f != one && m.FacetNormal(f).Z > 0.5 && w[i] < 0.2 && w[j] < 0.2 {
				limited++
				a := across(m.Corner(f, i), m.Corner(f, j), m.Corner(f, k), -w[i], -w[j], slope)
				require.LessOrEqual(t, w[k]+a, 1e-8)
			}
		}
	}
	require.Greater(t, limited, 100)
}

// Where neighbours ask for different stock, the chamfer between the parts of a split
// vertex lies as far off as the one that asks for more.
func TestChamferBetweenUnlikeFacets(t *testing.T) {
	for _, n := range []int{4, 6} {
		for shift := range 2 {
			m := solid.Cone(0.5, 10, n)
			own := make([]float64, len(m.Facets))
			for f := range own {
				own[f] = []float64{0.05, 0.1}[(f/2+shift)%2]
				if c := m.FacetNormal(f); c.Z > -0.5 {
					own[f] = []float64{0.05, 0.1}[(int(math.Round(math.Atan2(c.Y, c.X)/(2*math.Pi/float64(n))*2))/2+shift)&1]
				}
			}
			r, err := Grow(context.Background(), m, m.Topology(), own, Options{MaxSlope: 0.2})
			require.NoError(t, err)
			require.Equal(t, 1, r.Surface.Split)
			p, err := verify.Verify(context.Background(), m, surfaceOf(t, m, r), r.Allowance, verify.Options{Samples: 20000})
			require.NoError(t, err)
			require.LessOrEqual(t, max(p.All.Shortfall.Max.Value, p.GrownShortfall.Value), 0.0005, "%d sides", n)
		}
	}
}
