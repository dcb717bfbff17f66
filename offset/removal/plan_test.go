package removal_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"skinstock/mesh/finding"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

func load(t testing.TB, edits ...string) *recipe.Recipe {
	t.Helper()
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	text := string(r.Bytes)
	for i := 0; i < len(edits); i += 2 {
		require.Equal(t, 1, strings.Count(text, edits[i]), "%q is not there once", edits[i])
		text = strings.Replace(text, edits[i], edits[i+1], 1)
	}
	r, err = recipe.Parse("test", []byte(text))
	require.NoError(t, err)
	return r
}

// part has 40, 100 and 60 cm2 of upskin, vertical and downskin.
func part() removal.Part {
	return removal.Part{
		Areas: []removal.Area{
			{Skin: region.Upskin, Theta: 30 * s1.Degree, AreaMM2: 4000, Faces: 4},
			{Skin: region.Vertical, Theta: 90 * s1.Degree, AreaMM2: 10000, Faces: 10},
			{Skin: region.Downskin, Theta: 30 * s1.Degree, AreaMM2: 6000, Faces: 6},
		},
		SizeMM:    [3]float64{100, 60, 40},
		VolumeMM3: 50000,
	}
}

func plan(t testing.TB, r *recipe.Recipe, opt removal.Options) *removal.Plan {
	t.Helper()
	p, err := removal.New(r, part(), opt)
	require.NoError(t, err)
	return p
}

func skinOf(t testing.TB, p *removal.Plan, s region.Skin) removal.SkinPlan {
	t.Helper()
	sp, ok := p.Skin(s)
	require.True(t, ok)
	return sp
}

func codes(fs []finding.Finding) []string {
	var out []string
	for _, f := range fs {
		out = append(out, f.Code)
	}
	return out
}

// The formulas of the design document, section 4, worked by hand for the
// default recipe: Ra 28, Rz 140, Rp 84, Rv 56 um on downskins, target 1.6,
// floor 0.5, levelling depth 40 um, rate 2 um/min.
func TestSharedExposureByHand(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	R := 40 * math.Log(27.5/1.1) // 128.755 um
	require.InDelta(t, 128.755, R, 1e-3)
	require.InDelta(t, R/2, p.TimeMin, 1e-9)
	require.Equal(t, region.Downskin, p.Governs)

	down := skinOf(t, p, region.Downskin)
	require.InDelta(t, 140, down.RzUM, 1e-9)
	require.InDelta(t, 84, down.RpUM, 1e-9)
	require.InDelta(t, 56, down.RvUM, 1e-9)
	require.InDelta(t, R, down.CalledForUM, 1e-9)
	require.InDelta(t, R, down.TakenUM, 1e-9)
	require.InDelta(t, R+84-20, down.AllowanceUM.Mean, 1e-9)
	require.InDelta(t, 1.6, down.FinishedRaUM, 1e-12)
	require.Equal(t, "N7", down.FinishedGrade)
	require.InDelta(t, 0, down.OverPolishUM, 1e-9)
	require.True(t, down.Governs)

	up := skinOf(t, p, region.Upskin)
	called := 40 * math.Log(11.5/1.1)
	require.InDelta(t, called, up.CalledForUM, 1e-9)
	require.InDelta(t, R, up.TakenUM, 1e-9)
	require.InDelta(t, R-called, up.OverPolishUM, 1e-9)
	require.InDelta(t, (R-called)/2, up.OverPolishMin, 1e-9)
	require.InDelta(t, R+36, up.AllowanceUM.Mean, 1e-9)
	require.InDelta(t, 0.5+11.5*math.Exp(-R/40), up.FinishedRaUM, 1e-12)
	require.False(t, up.Governs)

	wall := skinOf(t, p, region.Vertical)
	require.InDelta(t, R+27, wall.AllowanceUM.Mean, 1e-9)
	require.Equal(t, removal.Stats{Min: wall.AllowanceUM.Mean, Mean: wall.AllowanceUM.Mean, Max: wall.AllowanceUM.Max}, wall.AllowanceUM)
}

func TestOwnExposure(t *testing.T) {
	p := plan(t, load(t, "exposure: shared", "exposure: own"), removal.Options{})
	for _, s := range p.Skins {
		require.InDelta(t, s.CalledForUM, s.TakenUM, 1e-9)
		require.InDelta(t, 1.6, s.FinishedRaUM, 1e-12)
		require.InDelta(t, s.CalledForUM/2, s.TimeMin, 1e-9)
		require.InDelta(t, s.TakenUM+s.StandOffUM-s.OversizeUM, s.AllowanceUM.Mean, 1e-9)
	}
	require.InDelta(t, 40*math.Log(27.5/1.1)/2, p.TimeMin, 1e-9)
	// Charge is that of each skin for its own time.
	var ah float64
	for _, s := range p.Skins {
		ah += 0.25 * s.AreaMM2 / 100 * s.TimeMin / 60
	}
	require.InEpsilon(t, ah, p.Bath.ChargeAh, 1e-12)
	// A stage lasts until its last skin is done.
	var stages float64
	for _, s := range p.Stages {
		stages += s.TimeMin
	}
	require.InEpsilon(t, p.TimeMin, stages, 1e-12)

	// Whichever piece of the part comes last.
	turned := part()
	slices.Reverse(turned.Areas)
	q, err := removal.New(p.Recipe, turned, removal.Options{})
	require.NoError(t, err)
	for i, s := range q.Stages {
		require.InEpsilon(t, p.Stages[i].TimeMin, s.TimeMin, 1e-12)
	}
}

func TestDatumMeanAndExtra(t *testing.T) {
	a := plan(t, load(t), removal.Options{})
	b := plan(t, load(t, "size_datum: peaks", "size_datum: mean", "extra_um: 0", "extra_um: 12.5"), removal.Options{})
	for i, s := range b.Skins {
		require.Zero(t, s.StandOffUM)
		require.InDelta(t, a.Skins[i].AllowanceUM.Mean-a.Skins[i].RpUM+12.5, s.AllowanceUM.Mean, 1e-9)
	}
}

// With valley clearing at twice the pits, pits govern: 2 x 56 = 112 < 128.8, 3 x 56 = 168 > 128.8.
func TestValleyClearing(t *testing.T) {
	p := plan(t, load(t, "clear: {value: 1,", "clear: {value: 3,"), removal.Options{})
	down := skinOf(t, p, region.Downskin)
	require.InDelta(t, 168, down.CalledForUM, 1e-9)
	require.InDelta(t, 168, down.ClearUM, 1e-9)
	require.InDelta(t, 40*math.Log(27.5/1.1), down.LevelUM, 1e-9)
	require.Less(t, down.FinishedRaUM, 1.6)
	p = plan(t, load(t, "clear: {value: 1,", "clear: {value: 2,"), removal.Options{})
	require.InDelta(t, 40*math.Log(27.5/1.1), skinOf(t, p, region.Downskin).CalledForUM, 1e-9)
}

func TestSkinAlreadySmooth(t *testing.T) {
	p := plan(t, load(t, "ra_um: {value: 9, source: assumed, uncertainty: 4,", "ra_um: {value: 1.2, source: assumed,"), removal.Options{})
	wall := skinOf(t, p, region.Vertical)
	require.Zero(t, wall.LevelUM)
	require.InDelta(t, 0.4*5*1.2, wall.CalledForUM, 1e-9)
}

// Local factors: a skin that is reached half as well sets a doubled time, and the others lose more.
func TestExposureFactors(t *testing.T) {
	r := load(t)
	p := plan(t, r, removal.Options{Exposure: map[region.Skin]removal.Factor{region.Downskin: {Least: 0.5, Mean: 0.8}}})
	R := 40 * math.Log(27.5/1.1)
	require.InDelta(t, R/(2*0.5), p.TimeMin, 1e-9)
	require.InDelta(t, 2*R*0.8, skinOf(t, p, region.Downskin).TakenUM, 1e-9)
	require.InDelta(t, 2*R, skinOf(t, p, region.Upskin).TakenUM, 1e-9)
	require.InDelta(t, R, p.AtExposed(region.Downskin, 30*s1.Degree, 0.5).TakenUM, 1e-9)
	none := p.AtExposed(region.Downskin, 30*s1.Degree, 0)
	require.Zero(t, none.TakenUM)
	require.Equal(t, none.RaUM, none.FinishedRaUM)

	_, err := removal.New(r, part(), removal.Options{Exposure: map[region.Skin]removal.Factor{region.Upskin: {}}})
	require.ErrorContains(t, err, "upskin: exposure from 0")
}

func TestUnreachedNamesTheFloor(t *testing.T) {
	r := load(t)
	r.Finish.FloorRaUM.Value = 1.7
	_, err := removal.New(r, part(), removal.Options{})
	var un *removal.UnreachedError
	require.ErrorAs(t, err, &un)
	require.Equal(t, 1.7, un.FloorRaUM)
	require.ErrorContains(t, err, "target Ra 1.6 um cannot be reached: this bath does not get below 1.7 um")
}

func TestFaradayIsAnError(t *testing.T) {
	r := load(t)
	r.Bath.RateUMPerMin.Value = 4.2 // 4.0899 um/min dissolve at 0.25 A/cm2
	_, err := removal.New(r, part(), removal.Options{})
	require.ErrorIs(t, err, removal.ErrFaraday)
	require.ErrorContains(t, err, "103 %")
}

func TestFixedAllowances(t *testing.T) {
	free := plan(t, load(t), removal.Options{})
	p := plan(t, load(t), removal.Options{FixedUM: map[region.Skin]float64{region.Downskin: 150, region.Upskin: 200}})
	down := skinOf(t, p, region.Downskin)
	require.True(t, down.Fixed)
	require.Equal(t, removal.Stats{Min: 150, Mean: 150, Max: 150}, down.AllowanceUM)
	require.Equal(t, skinOf(t, free, region.Downskin).AllowanceUM, down.ComputedUM)
	require.Equal(t, skinOf(t, free, region.Vertical).AllowanceUM, skinOf(t, p, region.Vertical).AllowanceUM)
	require.Equal(t, 150.0, p.At(region.Downskin, 10*s1.Degree).AllowanceUM)
	var text []string
	for _, f := range p.Findings {
		if f.Code == "fixed_allowance" {
			text = append(text, f.Severity.String()+": "+f.Message)
		}
	}
	require.Equal(t, []string{
		"info: upskin: the fixed allowance of 200.0 um stands in place of the computed 164.8 um; by this recipe the part finishes up to 35.2 um too large on this face",
		"warning: downskin: the fixed allowance of 150.0 um stands in place of the computed 192.8 um; by this recipe the part finishes up to 42.8 um too small on this face",
	}, text)
	_, err := removal.New(load(t), part(), removal.Options{FixedUM: map[region.Skin]float64{region.Upskin: -1}})
	require.Error(t, err)
}

func TestNegativeAllowance(t *testing.T) {
	p := plan(t, load(t, "oversize_um: {value: 20, source: assumed, uncertainty: 20", "oversize_um: {value: 400, source: assumed, uncertainty: 20"), removal.Options{})
	require.Zero(t, skinOf(t, p, region.Downskin).AllowanceUM.Mean)
	require.Contains(t, codes(p.Findings), "allowance_negative")
	for _, f := range p.Findings {
		if f.Code == "allowance_negative" {
			require.Equal(t, finding.Error, f.Severity)
			require.Contains(t, f.Message, "-187.2 um")
		}
	}
}

func TestNoSurface(t *testing.T) {
	_, err := removal.New(load(t), removal.Part{}, removal.Options{})
	require.ErrorIs(t, err, removal.ErrNoSurface)
	bad := part()
	bad.Areas[0].AreaMM2 = math.NaN()
	_, err = removal.New(load(t), bad, removal.Options{})
	require.ErrorContains(t, err, "NaN")
}

func TestPlatformTakesTheDownskinRow(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	require.Equal(t, p.At(region.Downskin, 0), p.At(region.Platform, 0))
}

// The plan says how many of the recipe's values nobody vouches for.
func TestAssumedValuesAreSaid(t *testing.T) {
	r := load(t)
	p := plan(t, r, removal.Options{})
	require.Equal(t, "assumed_value", p.Findings[0].Code)
	require.Equal(t, len(r.AssumedValues()), p.Findings[0].Count)
}

// With the sinusoid law each skin levels by its own wavelength, and a
// polarisation length slows all of them alike (C. Wagner; references.md 4.1).
func TestSinusoidLawInAPlan(t *testing.T) {
	p := plan(t, load(t, "law: empirical", "law: sinusoid"), removal.Options{})
	for _, c := range []struct {
		skin   region.Skin
		ra, wl float64
	}{{region.Upskin, 12, 116}, {region.Vertical, 9, 50}, {region.Downskin, 28, 150}} {
		s := skinOf(t, p, c.skin)
		require.InDelta(t, c.wl/(2*math.Pi)*math.Log((c.ra-0.5)/1.1), s.LevelUM, 1e-9)
		require.InDelta(t, math.Max(s.LevelUM, s.RvUM), s.CalledForUM, 1e-12)
	}
	slow := plan(t, load(t, "law: empirical", "law: sinusoid\n    polarisation_um: 30"), removal.Options{})
	s := skinOf(t, slow, region.Downskin)
	require.InDelta(t, (150/(2*math.Pi)+30)*math.Log(27.5/1.1), s.LevelUM, 1e-9)
	require.Greater(t, slow.TimeMin, p.TimeMin)
}

func TestSharedDepth(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	d, ok := p.SharedDepthUM()
	require.True(t, ok)
	require.InDelta(t, 2*p.TimeMin, d, 1e-9)
	require.InDelta(t, 0.7*d, p.AtExposed(region.Upskin, 0, 0.7).TakenUM, 1e-9)
	_, ok = plan(t, load(t, "exposure: shared", "exposure: own"), removal.Options{}).SharedDepthUM()
	require.False(t, ok)
}

const twoStages = `
  stages:
    - {name: rough, rate_um_per_min: 3, current_density_a_per_cm2: 0.3}
    - {name: fine, rate_um_per_min: 1, current_density_a_per_cm2: 0.1, depth_um: 20, levelling_depth_um: 15, floor_ra_um: 0.2}
`

// Stages: depths and times add up, roughness goes through them in order.
func TestStages(t *testing.T) {
	p := plan(t, load(t, "\n  volume_l:", twoStages+"  volume_l:"), removal.Options{})
	require.Len(t, p.Stages, 2)
	// Backwards by hand: after 20 um with d0 15 and floor 0.2 Ra is 1.6, so before it is
	before := 0.2 + 1.4*math.Exp(20.0/15)
	// and the rough stage takes 28 um down to that.
	rough := 40 * math.Log(27.5/(before-0.5))
	require.InDelta(t, rough, p.Stages[0].DepthUM, 1e-9)
	require.InDelta(t, 20, p.Stages[1].DepthUM, 1e-12)
	require.InDelta(t, rough/3+20, p.TimeMin, 1e-9)
	require.InDelta(t, p.Stages[0].TimeMin+p.Stages[1].TimeMin, p.TimeMin, 1e-9)
	require.InDelta(t, rough+20, skinOf(t, p, region.Upskin).TakenUM, 1e-9)
	require.InDelta(t, 1.6, skinOf(t, p, region.Downskin).FinishedRaUM, 1e-9)
	require.InDelta(t, 0.3*200*(rough/3)/60+0.1*200*20/60, p.Bath.ChargeAh, 1e-9)
	require.InDelta(t, 60, p.Bath.CurrentA, 1e-9)
}

func TestStagesThatTakeMoreThanCalledFor(t *testing.T) {
	p := plan(t, load(t, "\n  volume_l:", strings.Replace(twoStages, "depth_um: 20", "depth_um: 300", 1)+"  volume_l:"), removal.Options{})
	require.InDelta(t, 300, skinOf(t, p, region.Downskin).TakenUM, 1e-12)
	require.Contains(t, codes(p.Findings), "stage_idle")
}

// One stage written as a list is the same as none.
func TestOneStageIsTheBath(t *testing.T) {
	a := plan(t, load(t), removal.Options{})
	b := plan(t, load(t, "\n  volume_l:", "\n  stages: [{name: bath}]\n  volume_l:"), removal.Options{})
	require.Equal(t, a.Skins, b.Skins)
	require.Equal(t, a.Bath, b.Bath)
}

// Every built-in recipe gives a plan that a finishing engineer would not laugh
// at: under half a millimetre of stock, hours at most, 20 to 100 % efficiency.
func TestBuiltInRecipesPlan(t *testing.T) {
	for _, name := range recipe.List() {
		r, err := recipe.Load(name)
		require.NoError(t, err)
		p := plan(t, r, removal.Options{})
		require.Equal(t, region.Downskin, p.Governs, name)
		for _, s := range p.Skins {
			require.Greater(t, s.AllowanceUM.Mean, 50.0, name)
			require.Less(t, s.AllowanceUM.Mean, 500.0, name)
			require.LessOrEqual(t, s.FinishedRaMaxUM, r.Finish.TargetRaUM.Value*(1+1e-9), name)
		}
		require.Less(t, p.TimeMin, 240.0, name)
		require.Greater(t, p.Bath.EfficiencyPct, 20.0, name)
		require.LessOrEqual(t, p.Bath.EfficiencyPct, 100.0, name)
		for _, f := range p.Findings {
			require.Contains(t, []string{"assumed_value", "bath_heating"}, f.Code, name)
		}
		require.NotEmpty(t, p.Fatigue(-1), name)
	}
}

// A rougher skin never gets less stock nor a shorter bath; a finer target neither.
func TestMonotone(t *testing.T) {
	base := load(t)
	rapid.Check(t, func(rt *rapid.T) {
		ra := rapid.Float64Range(2, 60).Draw(rt, "ra")
		more := ra * rapid.Float64Range(1, 3).Draw(rt, "rougher")
		target := rapid.Float64Range(0.6, 6).Draw(rt, "target")
		finer := math.Max(0.55, target*rapid.Float64Range(0.3, 1).Draw(rt, "finer"))
		at := func(ra, target float64) *removal.Plan {
			r, _ := base.With("roughness.classes.downskin.ra_um", ra)
			r, _ = r.With("finish.target_ra_um", target)
			p, err := removal.New(r, part(), removal.Options{})
			if err != nil {
				rt.Fatal(err)
			}
			return p
		}
		a, b, c := at(ra, target), at(more, target), at(ra, math.Min(finer, target))
		const slack = 1e-9
		for _, q := range []*removal.Plan{b, c} {
			if q.TimeMin < a.TimeMin-slack {
				rt.Fatalf("time falls from %g to %g", a.TimeMin, q.TimeMin)
			}
			for i := range q.Skins {
				if q.Skins[i].AllowanceUM.Mean < a.Skins[i].AllowanceUM.Mean-slack {
					rt.Fatalf("%s: allowance falls from %g to %g", q.Skins[i].Skin, a.Skins[i].AllowanceUM.Mean, q.Skins[i].AllowanceUM.Mean)
				}
			}
		}
	})
}

func BenchmarkAt(b *testing.B) {
	for _, c := range []struct{ name, text string }{{"classes", "model: classes\n"}, {"table", tableText}, {"stair_step", stairText}} {
		p := plan(b, load(b, "model: classes\n", c.text), removal.Options{})
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var sum float64
			for i := range b.N {
				sum += p.At(region.Downskin, s1.Angle(i%90)*s1.Degree).AllowanceUM
			}
			if sum <= 0 {
				b.Fatal("no allowance")
			}
		})
	}
}
