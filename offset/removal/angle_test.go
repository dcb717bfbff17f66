package removal_test

import (
	"math"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

const tableText = `model: table
  table:
    up:
      - {deg: 0, ra_um: 8}
      - {deg: 15, ra_um: 13}
      - {deg: 45, ra_um: 11, rz_um: 60}
      - {deg: 90, ra_um: 9}
    down:
      - {deg: 30, ra_um: 28, oversize_um: 60}
      - {deg: 45, ra_um: 18, oversize_um: 30, rp_um: 50, rv_um: 45}
      - {deg: 90, ra_um: 9}
`

const stairText = `model: stair_step
  stair_step: {particle_um: 40, covered_wall: 0.13, track_ra_um: 8, dross_ra_um: 30, dross_oversize_um: 40}
`

func tableRecipe(t testing.TB, outside string) *recipe.Recipe {
	return load(t, "model: classes\n", tableText+outside)
}

// The curve goes through the rows, heights included.
func TestTableMeetsItsRows(t *testing.T) {
	p := plan(t, tableRecipe(t, ""), removal.Options{})
	require.True(t, p.Continuous())
	for _, c := range []struct {
		skin             region.Skin
		deg              float64
		ra, rp, rv, over float64
	}{
		{region.Upskin, 0, 8, 24, 16, 0},
		{region.Upskin, 15, 13, 39, 26, 0},
		{region.Upskin, 45, 11, 36, 24, 0},
		{region.Vertical, 90, 9, 27, 18, 0},
		{region.Downskin, 45, 18, 50, 45, 30},
		{region.Downskin, 135, 18, 50, 45, 30}, // the same place, angle to the build direction
		{region.Downskin, 30, 28, 84, 56, 60},
		{region.Vertical, 135, 18, 50, 45, 30},
	} {
		pl := p.At(c.skin, s1.Angle(c.deg)*s1.Degree)
		require.InDelta(t, c.ra, pl.RaUM, 1e-9, "%+v", c)
		require.InDelta(t, c.rp, pl.RpUM, 1e-9, "%+v", c)
		require.InDelta(t, c.rv, pl.RvUM, 1e-9, "%+v", c)
		require.InDelta(t, c.over, pl.OversizeUM, 1e-9, "%+v", c)
		require.InDelta(t, pl.TakenUM+pl.StandOffUM-pl.OversizeUM, pl.AllowanceUM, 1e-9)
	}
}

// Between two rows the curve stays between their values and never turns.
func TestTableDoesNotOvershoot(t *testing.T) {
	base := tableRecipe(t, "")
	rapid.Check(t, func(rt *rapid.T) {
		r := base.Clone()
		n := rapid.IntRange(2, 8).Draw(rt, "rows")
		rows := make([]recipe.TableRow, n)
		deg := 0.0
		for i := range rows {
			rows[i].Deg = recipe.AssumedValue(deg)
			rows[i].RaUM = recipe.AssumedValue(rapid.Float64Range(2, 50).Draw(rt, "ra"))
			deg += rapid.Float64Range(0.5, 11).Draw(rt, "step")
		}
		r.Roughness.Table.Up = rows
		p, err := removal.New(r, removal.Part{Areas: []removal.Area{{Skin: region.Upskin, AreaMM2: 1}}}, removal.Options{})
		if err != nil {
			rt.Fatal(err)
		}
		for i := 1; i < n; i++ {
			a, b := rows[i-1], rows[i]
			up := b.RaUM.Value >= a.RaUM.Value
			last := a.RaUM.Value
			for k := 1; k <= 20; k++ {
				x := a.Deg.Value + float64(k)/20*(b.Deg.Value-a.Deg.Value)
				v := p.At(region.Upskin, s1.Angle(x)*s1.Degree).RaUM
				const slack = 1e-9 // rounding of the cubic
				if (up && v < last-slack) || (!up && v > last+slack) {
					rt.Fatalf("between %g and %g deg the curve turns: %g after %g", a.Deg.Value, b.Deg.Value, v, last)
				}
				last = v
			}
		}
	})
}

// Beyond the last row that row stands in, and it is said; or it is an error.
func TestOutsideTheTable(t *testing.T) {
	flat := part()
	flat.Areas[2].Theta = 10 * s1.Degree // the table starts at 30 deg
	p, err := removal.New(tableRecipe(t, ""), flat, removal.Options{})
	require.NoError(t, err)
	require.Contains(t, codes(p.Findings), "outside_table")
	pl := p.At(region.Downskin, 10*s1.Degree)
	require.True(t, pl.Outside)
	require.InDelta(t, 28, pl.RaUM, 1e-9)

	_, err = removal.New(tableRecipe(t, "    outside: error\n"), flat, removal.Options{})
	require.ErrorIs(t, err, removal.ErrOutsideTable)
	p, err = removal.New(tableRecipe(t, ""), part(), removal.Options{})
	require.NoError(t, err)
	require.NotContains(t, codes(p.Findings), "outside_table")
}

// With an angle source nothing jumps where the classes meet, nor anywhere else
// from flat top to ceiling.
func TestNoStepsWithAnAngleSource(t *testing.T) {
	for name, text := range map[string]string{"table": tableText, "stair_step": stairText} {
		p := plan(t, load(t, "model: classes\n", text), removal.Options{})
		last := p.At(region.Upskin, 0)
		for i := 1; i <= 18000; i++ {
			deg := float64(i) / 100
			skin := region.Upskin
			switch {
			case deg > 120:
				skin = region.Downskin
			case deg >= 60:
				skin = region.Vertical
			}
			pl := p.At(skin, s1.Angle(deg)*s1.Degree)
			// 0.01 deg further, the steepest source changes its height by some 0.02 um.
			require.InDelta(t, last.AllowanceUM, pl.AllowanceUM, 0.2, "%s at %g deg", name, deg)
			last = pl
		}
	}
	// Class values do jump; that is what the slope rule of growing is for.
	p := plan(t, load(t), removal.Options{})
	require.False(t, p.Continuous())
	require.NotEqual(t, p.At(region.Upskin, 59*s1.Degree).AllowanceUM, p.At(region.Vertical, 61*s1.Degree).AllowanceUM)
}

// The model is the sawtooth of references.md 3.1 where powder, tracks and dross
// are nothing, and plateaus alone on a wall.
func TestStairStepModelLimits(t *testing.T) {
	bare := plan(t, load(t, "model: classes\n", "model: stair_step\n  stair_step: {particle_um: 0, covered_wall: 0}\n"), removal.Options{})
	for _, c := range []struct{ deg, ra float64 }{{15, 7.244444}, {30, 6.495191}, {45, 5.303301}} {
		require.InDelta(t, c.ra, bare.At(region.Upskin, s1.Angle(c.deg)*s1.Degree).RaUM, 1e-6)
		require.InDelta(t, c.ra, bare.At(region.Downskin, s1.Angle(c.deg)*s1.Degree).RaUM, 1e-6)
	}
	require.InDelta(t, 0, bare.At(region.Vertical, 90*s1.Degree).RaUM, 1e-12)
	require.Zero(t, bare.At(region.Upskin, 0).RaUM, "a flat top has no steps")
	// At 0.6876 deg a step of 30 um is 2.5 mm long, the cut-off: half of it counts.
	deg := math.Asin(0.030/2.5) * 180 / math.Pi
	require.InDelta(t, 30*math.Cos(deg*math.Pi/180)/4/2, bare.At(region.Upskin, s1.Angle(deg)*s1.Degree).RaUM, 1e-9)

	p := plan(t, load(t, "model: classes\n", stairText), removal.Options{})
	require.InDelta(t, 2*0.13*0.87*40, p.At(region.Vertical, 90*s1.Degree).RaUM, 1e-9)
	require.InDelta(t, 8, p.At(region.Upskin, 0).RaUM, 1e-9)
	require.InDelta(t, 30, p.At(region.Downskin, 0).RaUM, 1e-9)
	require.InDelta(t, 40, p.At(region.Downskin, 0).OversizeUM, 1e-9)
	// 30 deg down: steps 6.495191, plateaus of a share 0.065, dross 30 cos 30.
	want := math.Sqrt(6.495191*6.495191 + math.Pow(2*0.065*0.935*40, 2) + 675)
	require.InDelta(t, want, p.At(region.Downskin, 30*s1.Degree).RaUM, 1e-5)
}

// Class figures of a varying skin are means over its area, and add up.
func TestVaryingSkinIsAnAreaMean(t *testing.T) {
	r := tableRecipe(t, "")
	pieces := removal.Part{Areas: []removal.Area{
		{Skin: region.Upskin, Theta: 15 * s1.Degree, AreaMM2: 100, Faces: 1},
		{Skin: region.Upskin, Theta: 45 * s1.Degree, AreaMM2: 300, Faces: 2},
		{Skin: region.Downskin, Theta: 45 * s1.Degree, AreaMM2: 50, Faces: 1},
	}}
	p, err := removal.New(r, pieces, removal.Options{})
	require.NoError(t, err)
	up := skinOf(t, p, region.Upskin)
	require.InDelta(t, (100*13+300*11)/400.0, up.RaUM, 1e-9)
	require.Equal(t, 3, up.Faces)
	require.InDelta(t, up.TakenUM+up.StandOffUM-up.OversizeUM, up.AllowanceUM.Mean, 1e-9)
	require.InDelta(t, up.TakenUM+36, up.AllowanceUM.Min, 1e-9)
	require.InDelta(t, up.TakenUM+39, up.AllowanceUM.Max, 1e-9)
	require.Equal(t, region.Downskin, p.Governs)
}

func TestHistogram(t *testing.T) {
	var h removal.Histogram
	h.Add(region.Downskin, 30.1*s1.Degree, 10)
	h.Add(region.Downskin, 149.8*s1.Degree, 30) // 30.2 deg to the platform
	h.Add(region.Upskin, 30.1*s1.Degree, 5)
	h.Add(region.Vertical, 90*s1.Degree, 7)
	h.Add(region.Downskin, 0, 2)
	a := h.Areas()
	require.Len(t, a, 4)
	require.Equal(t, region.Upskin, a[0].Skin)
	require.Equal(t, region.Vertical, a[1].Skin)
	require.InDelta(t, (10*149.9+30*149.8)/40, a[2].Theta.Degrees(), 1e-9)
	require.InDelta(t, 149.8, a[2].From.Degrees(), 1e-9)
	require.InDelta(t, 149.9, a[2].To.Degrees(), 1e-9)
	require.Equal(t, 2, a[2].Faces)
	require.InDelta(t, 180, a[3].Theta.Degrees(), 1e-9)
	require.Equal(t, 40.0, a[2].AreaMM2)
}
