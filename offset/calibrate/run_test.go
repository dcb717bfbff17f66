package calibrate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/calibrate"
	"skinstock/offset/recipe"
)

// truth is a process that coupons are made of.
type truth struct {
	d0, floor, rate, efficiency, current float64
	up, down                             map[float64]float64 // Ra by inclination
}

var known = truth{
	d0: 40, floor: 0.5, rate: 2, efficiency: 0.489, current: 0.25,
	up:   map[float64]float64{15: 12, 45: 10, 90: 9},
	down: map[float64]float64{30: 28, 45: 18},
}

var (
	upAngles   = []float64{15, 45, 90}
	downAngles = []float64{30, 45}
	minutes    = []float64{5, 10, 20, 30, 45, 60, 80, 100}
)

func base(t testing.TB) *recipe.Recipe {
	t.Helper()
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	return r
}

// make returns coupons of the truth, one an inclination and time, all
// measurements off by normal scatter of a share of their value.
func (k truth) make(rng *rand.Rand, scatter float64) []calibrate.Coupon {
	noisy := func(v float64) float64 { return v * math.Max(0.01, 1+scatter*rng.NormFloat64()) }
	nan := math.NaN()
	const rho, area, equivalent = 4.43, 20.0, 11.654239
	var out []calibrate.Coupon
	add := func(deg, ra float64, down bool) {
		for _, m := range minutes {
			depth := k.rate * m
			current := k.current * area
			mass := k.efficiency * current * m * 60 * equivalent / 96485.33212331
			out = append(out, calibrate.Coupon{
				Line: len(out) + 2, ID: fmt.Sprintf("c%d", len(out)), InclinationDeg: deg, Down: down,
				RaBeforeUM: noisy(ra), RzBeforeUM: nan, RaAfterUM: noisy(k.floor + (ra-k.floor)*math.Exp(-depth/k.d0)),
				ThicknessBeforeMM: 3, ThicknessAfterMM: 3 - 2*noisy(depth)/1000, Faces: nan,
				MassBeforeG: 50, MassAfterG: 50 - noisy(mass), AreaCM2: area, Minutes: m, CurrentA: current,
			})
		}
	}
	for _, a := range upAngles {
		add(a, k.up[a], false)
	}
	for _, a := range downAngles {
		add(a, k.down[a], true)
	}
	return out
}

// of returns the true value of a parameter.
func (k truth) of(t testing.TB, p calibrate.Parameter) float64 {
	switch p.Key {
	case "levelling_depth":
		return k.d0
	case "floor_ra":
		return k.floor
	case "rate":
		return k.rate
	case "efficiency":
		return k.efficiency
	case "current_density":
		return k.current
	}
	var side string
	var deg float64
	_, err := fmt.Sscanf(p.Label, "Ra as built, %s %f deg", &side, &deg)
	require.NoError(t, err)
	if side == "up" {
		return k.up[deg]
	}
	return k.down[deg]
}

// 200 seeds with 10 % scatter on every measurement: the truth lies inside the
// 95 % interval in 90 to 99 % of them, for each kind of parameter.
func TestIntervalsHoldTheTruth(t *testing.T) {
	r := base(t)
	const seeds = 200
	inside, all := map[string]int{}, map[string]int{}
	for seed := range uint64(seeds) {
		res, err := calibrate.Run(known.make(rand.New(rand.NewPCG(seed, 7)), 0.1), r, calibrate.Options{By: "synthetic"})
		require.NoError(t, err, "seed %d", seed)
		for _, p := range res.Parameters {
			v := known.of(t, p)
			all[p.Key]++
			if p.Lo <= v && v <= p.Hi {
				inside[p.Key]++
			}
		}
	}
	for _, key := range []string{"levelling_depth", "floor_ra", "rate", "efficiency", "ra"} {
		n := seeds
		if key == "ra" {
			n *= len(upAngles) + len(downAngles)
		}
		require.Equal(t, n, all[key], key)
		share := float64(inside[key]) / float64(all[key])
		t.Logf("%-16s %5.1f %% of %d", key, 100*share, all[key])
		require.GreaterOrEqual(t, share, 0.90, key)
		require.LessOrEqual(t, share, 0.99, key)
	}
}

// Without scatter the fit gives the truth back.
func TestExactCoupons(t *testing.T) {
	res, err := calibrate.Run(known.make(rand.New(rand.NewPCG(1, 1)), 0), base(t), calibrate.Options{Name: "shop", By: "coupons.csv"})
	require.NoError(t, err)
	for _, p := range res.Parameters {
		require.InEpsilon(t, known.of(t, p), p.Value, 1e-6, p.Label)
	}
	require.Empty(t, res.Outliers)
	r := res.Recipe
	require.Equal(t, "shop", r.Name)
	require.Equal(t, recipe.ModelTable, r.Roughness.Model)
	require.Len(t, r.Roughness.Table.Up, 3)
	require.Len(t, r.Roughness.Table.Down, 3, "the wall counts for both sides")
	require.Equal(t, 90.0, r.Roughness.Table.Down[2].Deg.Value)
	require.InEpsilon(t, 28, r.Roughness.Table.Down[0].RaUM.Value, 1e-5)
	require.Equal(t, recipe.Measured, r.Finish.Levelling.DepthUM.Source)
	require.Equal(t, "coupons.csv", r.Finish.Levelling.DepthUM.By)
	require.NotEqual(t, recipe.Measured, r.Bath.VoltageV.Source)
}

// Two spoiled coupons are named, and move the fit by no more than its interval.
func TestOutliersAreNamed(t *testing.T) {
	good := known.make(rand.New(rand.NewPCG(3, 7)), 0.05)
	bad := append([]calibrate.Coupon(nil), good...)
	bad[7].RaAfterUM *= 4
	bad[21].ThicknessAfterMM = 3 - 3*(3-bad[21].ThicknessAfterMM) // depth by three
	a, err := calibrate.Run(good, base(t), calibrate.Options{})
	require.NoError(t, err)
	b, err := calibrate.Run(bad, base(t), calibrate.Options{})
	require.NoError(t, err)
	named := map[string]bool{}
	for _, o := range b.Outliers {
		named[o.Fit+" "+o.ID] = true
	}
	require.True(t, named["levelling "+bad[7].ID], "%v", named)
	require.True(t, named["rate "+bad[21].ID], "%v", named)
	for i, p := range b.Parameters {
		q := a.Parameters[i]
		require.Equal(t, q.Label, p.Label)
		require.InDelta(t, q.Value, p.Value, (q.Hi-q.Lo)/2+(p.Hi-p.Lo)/2, p.Label)
	}
	require.Equal(t, len(a.Residuals), len(b.Residuals), "an outlier is not dropped")
}

func TestFloorStaysWhenNoCouponShowsIt(t *testing.T) {
	short := known.make(rand.New(rand.NewPCG(5, 7)), 0.05)
	kept := short[:0]
	for _, c := range short {
		if c.Minutes <= 20 {
			kept = append(kept, c)
		}
	}
	res, err := calibrate.Run(kept, base(t), calibrate.Options{})
	require.NoError(t, err)
	for _, p := range res.Parameters {
		require.NotEqual(t, "floor_ra", p.Key)
	}
	require.Contains(t, strings.Join(res.Notes, "\n"), "floor: no coupon was treated long enough")
	require.Equal(t, recipe.Assumed, res.Recipe.Finish.FloorRaUM.Source)
	require.Equal(t, recipe.Measured, res.Recipe.Finish.Levelling.DepthUM.Source)
}

func TestMoreMetalThanCharge(t *testing.T) {
	k := known
	k.efficiency = 1.2
	_, err := calibrate.Run(k.make(rand.New(rand.NewPCG(6, 7)), 0.02), base(t), calibrate.Options{})
	require.ErrorIs(t, err, calibrate.ErrTooMuchMetal)
	require.ErrorContains(t, err, "check current, minutes, area")
}

// A measured floor above the base recipe's target: the fit is shown, no recipe comes out.
func TestFloorAboveTheTarget(t *testing.T) {
	k := known
	k.floor = 2.5
	res, err := calibrate.Run(k.make(rand.New(rand.NewPCG(6, 7)), 0.02), base(t), calibrate.Options{})
	require.ErrorIs(t, err, recipe.ErrInvalid)
	require.ErrorContains(t, err, "target Ra 1.6 um is not above the floor of 2.5")
	require.NotContains(t, err.Error(), "line ")
	require.NotEmpty(t, res.Parameters)
	require.Nil(t, res.Recipe)
}

func TestTooFewCoupons(t *testing.T) {
	all := known.make(rand.New(rand.NewPCG(1, 1)), 0.1)
	_, err := calibrate.Run(all[:2], base(t), calibrate.Options{})
	require.ErrorIs(t, err, calibrate.ErrTooFew)
	_, err = calibrate.Run(nil, base(t), calibrate.Options{})
	require.ErrorIs(t, err, calibrate.ErrTooFew)
}

// Coupons of walls only give the wall's row; the other skins stay assumed.
func TestWallsOnly(t *testing.T) {
	var walls []calibrate.Coupon
	for _, c := range known.make(rand.New(rand.NewPCG(1, 1)), 0.05) {
		if c.InclinationDeg == 90 {
			walls = append(walls, c)
		}
	}
	res, err := calibrate.Run(walls, base(t), calibrate.Options{})
	require.NoError(t, err)
	c := res.Recipe.Roughness.Classes
	require.Equal(t, recipe.ModelClasses, res.Recipe.Roughness.Model)
	require.Equal(t, recipe.Measured, c.Vertical.RaUM.Source)
	require.Equal(t, recipe.Assumed, c.Downskin.RaUM.Source)
	require.Contains(t, strings.Join(res.Notes, "\n"), "no coupon for downskin")
}

// The order of the coupons does not matter, and the same coupons give the same bytes.
func TestOrderAndBytes(t *testing.T) {
	a := known.make(rand.New(rand.NewPCG(9, 7)), 0.1)
	b := append([]calibrate.Coupon(nil), a...)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(b), func(i, j int) { b[i], b[j] = b[j], b[i] })
	x, err := calibrate.Run(a, base(t), calibrate.Options{})
	require.NoError(t, err)
	y, err := calibrate.Run(a, base(t), calibrate.Options{})
	require.NoError(t, err)
	require.Equal(t, string(x.YAML), string(y.YAML))
	z, err := calibrate.Run(b, base(t), calibrate.Options{})
	require.NoError(t, err)
	for i, p := range x.Parameters {
		require.InEpsilon(t, p.Value, z.Parameters[i].Value, 1e-6)
	}
}
