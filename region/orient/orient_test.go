package orient

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
	"skinstock/region"
)

func at(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

// downFirst ranks by downskin area, and among equals by height.
var downFirst = Weights{Downskin: 1, Height: 1e-3}

func rank(t testing.TB, m *mesh.Mesh, opt Options) *Ranking {
	t.Helper()
	if opt.VerticalFrom == 0 {
		opt.VerticalFrom = 60 * s1.Degree
	}
	r, err := Rank(context.Background(), m, m.Topology(), opt)
	require.NoError(t, err)
	require.NotEmpty(t, r.Best)
	return r
}

// A box has at least one face flatter than 60 degrees in any direction, since
// the squares of the three cosines sum to 1: best is the smallest face, 10 x 5,
// alone. It may lean up to 30 degrees about the long side, which is lower:
// 20 cos 30 + 5 sin 30 against 20 upright.
func TestBox(t *testing.T) {
	m := solid.Box(at(0, 0, 0), at(20, 10, 5))
	r := rank(t, m, Options{Weights: &downFirst, Current: at(0, 0, 1)})
	best := r.Best[0]
	require.InDelta(t, 50, best.Tally.AreaMM2[region.Downskin], 1e-9)
	require.InDelta(t, 50, best.Tally.AreaMM2[region.Upskin], 1e-9)
	want := 20*math.Cos(math.Pi/6) + 5*math.Sin(math.Pi/6)
	require.InDelta(t, want, best.Tally.HeightMM, 0.1) // the last step is an eighth of a degree
	require.GreaterOrEqual(t, best.Tally.HeightMM, want-1e-3)
	require.InDelta(t, 200, r.Current.Tally.AreaMM2[region.Downskin], 1e-9)
	require.InDelta(t, 5, r.Current.Tally.HeightMM, 1e-12)
	require.InDelta(t, 200, r.Current.Tally.FlatMM2, 1e-9)
	require.InDelta(t, 200, r.Current.Tally.DownMM2[0], 1e-9)
	require.InDelta(t, 300, r.Current.Tally.DownMM2[Bins-1]+r.Current.Tally.AreaMM2[region.Vertical], 1e-9, "upright faces do not face down")
}

// A plate stands on edge.
func TestPlate(t *testing.T) {
	best := rank(t, solid.Box(at(0, 0, 0), at(100, 80, 2)), Options{Weights: &downFirst}).Best[0]
	require.InDelta(t, 160, best.Tally.AreaMM2[region.Downskin], 1e-9)
	require.Less(t, math.Abs(best.Dir.Z), 0.5)
}

// A cone with sides at 67.4 degrees has no downskin point down, and may lean
// by the 7.4 degrees until a side is at 60.
func TestCone(t *testing.T) {
	best := rank(t, solid.Cone(5, 12, 360), Options{Weights: &downFirst}).Best[0]
	require.Zero(t, best.Tally.AreaMM2[region.Downskin])
	require.LessOrEqual(t, best.Dir.Angle(at(0, 0, -1)).Degrees(), 7.5)
	require.Zero(t, best.Tally.FlatMM2)
}

// An L-profile stands on its end of 144 mm2: every other way more than 400 face down.
func TestLProfile(t *testing.T) {
	l := []r3.Vector{at(0, 0, 0), at(20, 0, 0), at(20, 4, 0), at(4, 4, 0), at(4, 20, 0), at(0, 20, 0)}
	best := rank(t, solid.Extrude(l, at(2, 2, 0), 100), Options{Weights: &downFirst}).Best[0]
	require.InDelta(t, 144, best.Tally.AreaMM2[region.Downskin], 1e-9)
	// The four sides stay vertical while |x| and |y| are up to a half: |z| from the root of a half.
	require.Greater(t, math.Abs(best.Dir.Z), math.Sqrt(0.5)-1e-6)
}

// Directions that a part's symmetry makes alike score alike.
func TestEquivalentDirections(t *testing.T) {
	m := solid.Box(at(-5, -5, -5), at(5, 5, 5))
	k := &ranker{opt: Options{VerticalFrom: 60 * s1.Degree}, hist: NewHistogram(m, nil)}
	require.NoError(t, k.opt.complete())
	k.limits = newLimits(k.opt.VerticalFrom, k.opt.Critical)
	k.worst = [5]float64{1, 1, 1, 1, 1}
	var first float64
	for i, d := range []r3.Vector{at(1, 2, 3), at(3, 1, 2), at(2, 3, 1), at(-1, 2, 3), at(1, -2, -3), at(-3, -2, -1)} {
		c := Candidate{Dir: d.Normalize()}
		c.Tally = k.hist.tally(c.Dir, k.limits)
		if s := k.score(&c); i == 0 {
			first = s
		} else {
			require.InDelta(t, first, s, 1e-9*first)
		}
	}
}

// The histogram against sorting every facet, on sound real parts.
func TestHistogramAgainstMesh(t *testing.T) {
	l := newLimits(60*s1.Degree, 45*s1.Degree)
	for _, name := range []string{
		"plate-holes.stl", "l-bracket.stl", "rail-mount.stl", "pipe-stand-base.stl", "wing-nut.stl", "nut-coarse.stl", "tray-thin-cutouts.stl",
		"case-upper.stl", "shade-small-thin.stl", "cell-rack.stl", "soap-dish.stl", "hook-organic.stl", "busted-scan.stl", "chain-40-links.stl",
	} {
		t.Run(name, func(t *testing.T) {
			m := stltest.Shared(t, name)
			h, all, topo := NewHistogram(m, nil), m.Area(), m.Topology()
			for _, d := range Even(40) {
				fast := h.tally(d, l)
				s, err := region.Classify(m, topo, region.Options{BuildDir: d, VerticalFrom: 60 * s1.Degree})
				require.NoError(t, err)
				for skin, a := range s.Areas(m) {
					// A cell is 1.3 degrees wide; what it sorts wrongly lies along two circles of the sphere.
					require.InDelta(t, a, fast.AreaMM2[skin], 0.02*all, "skin %d, direction %v", skin, d)
				}
				require.InEpsilon(t, height(m, d), fast.HeightMM, 0.02)
			}
		})
	}
}

// Time and height conflict on a plate when time follows downskin: the table
// runs from quick and high to slow and low, and nothing on it is beaten.
func TestPareto(t *testing.T) {
	cost := func(t Tally) (Cost, error) {
		return Cost{TimeMin: 1 + t.AreaMM2[region.Downskin]/100, AddedMM3: 1}, nil
	}
	r := rank(t, solid.Box(at(0, 0, 0), at(100, 80, 2)), Options{Cost: cost})
	require.Greater(t, len(r.Pareto), 2)
	for i, c := range r.Pareto[1:] {
		require.Greater(t, c.Cost.TimeMin, r.Pareto[i].Cost.TimeMin)
		require.Less(t, c.Tally.HeightMM, r.Pareto[i].Tally.HeightMM)
	}
	for _, c := range r.Sampled {
		for _, p := range r.Pareto {
			require.False(t, c.Cost.TimeMin < p.Cost.TimeMin && c.Tally.HeightMM < p.Tally.HeightMM)
		}
	}
	require.InDelta(t, 2, r.Pareto[len(r.Pareto)-1].Tally.HeightMM, 1e-9, "lowest lies flat")
}

func TestSameForAnyWorkers(t *testing.T) {
	m := solid.LanderBracket(3)
	cost := func(t Tally) (Cost, error) { return Cost{TimeMin: t.DownMM2[3], AddedMM3: t.AreaMM2[0]}, nil }
	one := rank(t, m, Options{Cost: cost, Workers: 1, MinIslandMM2: 0.5, Current: at(0, 0, 1)})
	require.Equal(t, one, rank(t, m, Options{Cost: cost, Workers: 7, MinIslandMM2: 0.5, Current: at(0, 0, 1)}))
	require.LessOrEqual(t, one.Best[0].Score, one.Current.Score)
}

func TestTurn(t *testing.T) {
	m := solid.Move(solid.Cone(5, 12, 48), solid.Rotation{Axis: at(1, 2, 0), Angle: 0.3}, at(10, 20, 30))
	for _, b := range []r3.Vector{at(0, 0, 1), at(0, 0, -2), at(1, 1, 1), at(0, -3, 0.5)} {
		turned := Turn(m, b)
		lo, hi := turned.Bounds()
		require.InDelta(t, 0, lo.Z, 1e-12)
		require.InDelta(t, height(m, b.Normalize()), hi.Z, 1e-12)
		require.InEpsilon(t, m.Volume(), turned.Volume(), 1e-12)
		for f := range m.Facets {
			require.InDelta(t, m.FacetNormal(f).Dot(b.Normalize()), turned.FacetNormal(f).Z, 1e-12)
		}
	}
}

func TestEvenSpread(t *testing.T) {
	dirs := Even(2500)
	var sum r3.Vector
	for _, d := range dirs {
		require.True(t, d.IsUnit())
		sum = sum.Add(d)
	}
	require.Less(t, sum.Norm(), 1.0)
	// Every place of the sphere is within 3 degrees of a direction: 2,500 caps of that size cover it 1.7 times.
	for _, p := range Even(977) {
		near := 180.0
		for _, d := range dirs {
			near = min(near, d.Angle(p).Degrees())
		}
		require.Less(t, near, 3.0)
	}
}

func TestWrongInput(t *testing.T) {
	ctx, m := context.Background(), solid.Box(at(0, 0, 0), at(1, 1, 1))
	topo := m.Topology()
	_, err := Rank(ctx, &mesh.Mesh{}, (&mesh.Mesh{}).Topology(), Options{})
	require.ErrorIs(t, err, ErrEmpty)
	for _, o := range []Options{{Directions: -1}, {VerticalFrom: 2}, {Critical: -1}, {Weights: &Weights{Time: -1}}} {
		_, err := Rank(ctx, m, topo, o)
		require.Error(t, err)
	}
	wrong := errors.New("no such skin")
	_, err = Rank(ctx, m, topo, Options{Cost: func(Tally) (Cost, error) { return Cost{}, wrong }})
	require.ErrorIs(t, err, wrong)
	done, cancel := context.WithCancel(ctx)
	cancel()
	_, err = Rank(done, m, topo, Options{})
	require.ErrorIs(t, err, context.Canceled)
}

func BenchmarkRank(b *testing.B) {
	for _, cell := range []float64{3, 0.4} {
		m := solid.LanderBracket(cell)
		topo := m.Topology()
		b.Run(fmt.Sprintf("%d facets", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Rank(context.Background(), m, topo, Options{VerticalFrom: 60 * s1.Degree, MinIslandMM2: 0.5}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
