package removal_test

import (
	"math"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

// The bath sheet of the default recipe on 200 cm2, each number by hand.
func TestBathByHand(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	b := p.Bath
	R := 40 * math.Log(27.5/1.1)
	min := R / 2
	require.InDelta(t, 200, b.AreaCM2, 1e-9)
	require.InDelta(t, min, b.TimeMin, 1e-9)
	require.Equal(t, "downskin", b.GovernedBy)
	require.InDelta(t, 50, b.CurrentA, 1e-9)
	require.InDelta(t, 50*min/60, b.ChargeAh, 1e-9)
	require.InDelta(t, 50*min/60*0.3, b.EnergyKWh, 1e-9)
	require.InDelta(t, 15, b.PowerKW, 1e-9)
	require.InDelta(t, R*1e-4*200*4.43, b.MassRemovedG, 1e-9)
	require.InDelta(t, 4.43*1e-4*(40*(R+36)+100*(R+27)+60*(R+64)), b.MassAddedG, 1e-9)
	// Faraday depth: 16.359504 um/min at 1 A/cm2 (references.md 5).
	require.InEpsilon(t, 16.359504*0.25*min, b.FullDepthUM, 1e-7)
	require.InEpsilon(t, 100*2/(16.359504*0.25), b.EfficiencyPct, 1e-7)
	require.InEpsilon(t, 0.456419*b.ChargeAh, b.HydrogenL, 1e-5)
	require.InEpsilon(t, 0.456419*b.CurrentA, b.HydrogenLPerH, 1e-5)
	require.InDelta(t, b.MassRemovedG/100, b.LoadingGPerL, 1e-12)
	require.Equal(t, int(20/(b.MassRemovedG/100)), b.PartsLeft)
	require.InDelta(t, b.EnergyKWh*3600/(100*4.18), b.HeatRiseK, 1e-9)

	// Grown by 192.8 um a side: 100.3855 x 60.3855 x 40.3855 mm in 400 x 300 x 300 with 40 mm.
	require.InDelta(t, 100+2*(R+64)/1000, b.GrownSizeMM[0], 1e-9)
	require.Contains(t, codes(p.Findings), "bath_heating") // 16 kWh in 100 l
	// Long side along the bath: (400-40)/(100.4+40) = 2, (300-40)/(60.4+40) = 2, (300-40)/(40.4+40) = 3;
	// turned, 3 x 1 x 3 or 4 x 1 x 2 are fewer.
	require.Equal(t, 12, b.LotByEnvelope)
	require.True(t, b.FitsEnvelope)
	require.Equal(t, 4, b.LotByCurrent, "200 A / 50 A and 60 kW / 15 kW")
	require.Equal(t, 4, b.Lot)
}

// Hydrogen of an ampere-hour, 18.655685 mmol or 0.456419 l at 25 C; charge for
// 100 um of Ti-6Al-4V, 0.101877578 Ah/cm2 and 0.0305633 kWh/cm2 at 300 V;
// 60 W/cm2 at 300 V and 0.2 A/cm2 (references.md 4.4, 5).
func TestClosedBathValues(t *testing.T) {
	require.InDelta(t, 0.456419, removal.HydrogenLPerAh, 1e-6)
	r := load(t, "rate_um_per_min: {value: 2, source: assumed, uncertainty: 0.6, note: \"titanium is slower and scatters more than the 2 to 8 um/min of steels\"}", "efficiency: 1",
		"current_density_a_per_cm2: {value: 0.25, source: assumed, uncertainty: 0.1", "current_density_a_per_cm2: {value: 0.2, source: assumed, uncertainty: 0.1")
	p := plan(t, r, removal.Options{})
	perCM2 := 100 / p.Bath.MeanDepthUM / p.Bath.AreaCM2 // of 100 um
	require.InEpsilon(t, 0.101877578, p.Bath.ChargeAh*perCM2, 1e-7)
	require.InEpsilon(t, 0.0305633, p.Bath.EnergyKWh*perCM2, 1e-6)
	require.InEpsilon(t, 0.06, p.Bath.PowerKW/p.Bath.AreaCM2, 1e-12)
	require.InDelta(t, 100, p.Bath.EfficiencyPct, 1e-9)
}

// The worked example of references.md 5 at both efficiencies: 200 cm2 at 0.25
// A/cm2 for 10 min. Tolerance 1e-5 um, g and cm3 as stated there.
func TestWorkedExample(t *testing.T) {
	for _, c := range []struct {
		efficiency                string
		mass, volume, depth, rate float64
	}{
		{"1", 3.623630, 0.817975, 40.898761, 4.089876},
		{"0.4", 1.449452, 0.327190, 16.359504, 1.635950},
	} {
		r := load(t, "rate_um_per_min: {value: 2, source: assumed, uncertainty: 0.6, note: \"titanium is slower and scatters more than the 2 to 8 um/min of steels\"}", "efficiency: "+c.efficiency)
		r.Finish.Clear.Value = 0
		r.Finish.Levelling.DepthUM.Value = c.depth
		r.Finish.FloorRaUM.Value = 0
		r.Finish.TargetRaUM.Value = 28 / math.E // one levelling depth below what downskins have
		p := plan(t, r, removal.Options{})
		require.InDelta(t, 10, p.TimeMin, 1e-5)
		require.InDelta(t, 50, p.Bath.CurrentA, 1e-9)
		require.InDelta(t, 30000, 3600*p.Bath.ChargeAh, 0.02) // 10 min to 1e-6 of it
		require.InDelta(t, c.mass, p.Bath.MassRemovedG, 1e-5)
		require.InDelta(t, c.volume, p.Bath.MassRemovedG/4.43, 1e-5)
		require.InDelta(t, c.depth, p.Bath.MeanDepthUM, 1e-5)
		require.InDelta(t, c.rate, p.Stages[0].RateUMPerMin, 1e-5)
	}
}

func TestPartTooLargeTooHungryForASpentBath(t *testing.T) {
	r := load(t, "max_current_a: {value: 200", "max_current_a: {value: 49", "life_g_per_l: {value: 20,", "loaded_g_per_l: 19.9\n  life_g_per_l: {value: 20,")
	big := part()
	big.SizeMM = [3]float64{330, 10, 10} // 400 - 2 x 40 = 320
	p, err := removal.New(r, big, removal.Options{})
	require.NoError(t, err)
	require.Subset(t, codes(p.Findings), []string{"too_large", "over_current", "bath_spent"})
	require.False(t, p.Bath.FitsEnvelope)
	require.Zero(t, p.Bath.Lot)
}

// 320 mm less the allowances is the longest part that fits; a millimetre more does not.
func TestEnvelopeAtItsLimit(t *testing.T) {
	r := load(t)
	fit := part()
	p := plan(t, r, removal.Options{})
	most := p.Bath.GrownSizeMM[0] - 100
	fit.SizeMM = [3]float64{10, 10, 320 - most}
	p, err := removal.New(r, fit, removal.Options{})
	require.NoError(t, err)
	require.True(t, p.Bath.FitsEnvelope)
	fit.SizeMM[2] += 1e-3
	p, err = removal.New(r, fit, removal.Options{})
	require.NoError(t, err)
	require.False(t, p.Bath.FitsEnvelope)
}

func TestBathWithoutElectricalFigures(t *testing.T) {
	r := load(t, "current_density_a_per_cm2: {value: 0.25, source: assumed, uncertainty: 0.1, note: usual range 0.1 to 0.5}", "efficiency: 0.5")
	p := plan(t, r, removal.Options{})
	require.Contains(t, codes(p.Findings), "bath_incomplete")
	require.Zero(t, p.Bath.CurrentA)
	require.Zero(t, p.Bath.EnergyKWh)
	require.False(t, p.Bath.HasCurrent)
	require.False(t, p.Bath.HasLimit)
	require.Positive(t, p.Bath.MassRemovedG)
}

func TestEfficiencyMismatch(t *testing.T) {
	p := plan(t, load(t, "\n  voltage_v:", "\n  efficiency: 0.3\n  voltage_v:"), removal.Options{})
	require.Contains(t, codes(p.Findings), "efficiency_mismatch") // 2 um/min implies 49 %
	p = plan(t, load(t, "\n  voltage_v:", "\n  efficiency: 0.48\n  voltage_v:"), removal.Options{})
	require.NotContains(t, codes(p.Findings), "efficiency_mismatch")
}

// Every line of the sheet has a unit, says how it comes about, and the sums
// that stand in it come out, to the four digits that are printed.
func TestSheetAddsUp(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	lines := map[string]removal.Line{}
	for _, g := range p.Sheet().Groups {
		require.NotEmpty(t, g.Title)
		for _, l := range g.Lines {
			require.NotEmpty(t, l.Unit, l.Key)
			require.NotEmpty(t, l.How, l.Key)
			require.False(t, math.IsNaN(l.Value) || math.IsInf(l.Value, 0), l.Key)
			lines[g.Title+"/"+l.Key] = l
		}
	}
	require.Equal(t, "40 um x ln((28 - 0.5)/(1.6 - 0.5))", lines["downskin/level_um"].How)
	require.Equal(t, "1 x Rv 56 um", lines["downskin/clear_um"].How)
	require.Equal(t, "2 um/min x 64.38 min x local factor 1; downskin sets the time", lines["upskin/taken_um"].How)
	require.Equal(t, "128.8 + 84.0 - 20.0 + 0.0 um", lines["downskin/allowance_um"].How)
	require.InDelta(t, 192.8, lines["downskin/allowance_um"].Value, 0.05)
	require.Equal(t, "0.25 A/cm2 x 200 cm2", lines["bath/current_a"].How)
	require.Equal(t, 50.0, lines["bath/current_a"].Value)
	require.Equal(t, "128.8 um x 200 cm2 x 4.43 g/cm3 / 10000", lines["bath/mass_removed_g"].How)
	require.InDelta(t, 128.8*200*4.43/10000, lines["bath/mass_removed_g"].Value, 0.01)
	require.Equal(t, "6e5 x 0.25 A/cm2 x 11.65 g/mol / (96485.33 C/mol x 4.43 g/cm3) x 64.38 min", lines["stage bath/full_depth_um"].How)
	require.InEpsilon(t, 6e5*0.25*11.65/(96485.33*4.43)*64.38, lines["stage bath/full_depth_um"].Value, 1e-3)
	for _, k := range []string{"downskin/ra_um", "downskin/allowance_um", "bath/time_min", "bath/current_a"} {
		require.EqualValues(t, "assumed", lines[k].Source, k)
	}
	require.Empty(t, lines["bath/area_cm2"].Source)
}

// A measured recipe's sheet says measured where all that goes in is.
func TestSheetSources(t *testing.T) {
	r := load(t)
	for _, v := range r.Values() {
		require.NotEqual(t, "measured", string(v.Source))
	}
	m := r.Clone()
	for _, q := range []*recipe.Quantity{&m.Roughness.Classes.Upskin.RaUM, &m.Roughness.Classes.Upskin.OversizeUM, &m.Roughness.RzPerRa, &m.Roughness.PeakShare} {
		q.Source = "measured"
	}
	p := plan(t, m, removal.Options{})
	for _, l := range p.Sheet().Groups[0].Lines {
		switch l.Key {
		case "rz_um", "standoff_um":
			require.EqualValues(t, "measured", l.Source, l.Key)
		case "allowance_um":
			require.EqualValues(t, "assumed", l.Source, l.Key)
		}
	}
}

// Mass removed by Faraday's law at the implied efficiency is the mass by depth.
func TestFaradayAndDepthAgree(t *testing.T) {
	for _, exposure := range []string{"shared", "own"} {
		p := plan(t, load(t, "exposure: shared", "exposure: "+exposure), removal.Options{})
		e, ok := p.Recipe.Material.EquivalentGPerMol()
		require.True(t, ok)
		byCharge := p.Bath.ChargeAh * 3600 * p.Bath.EfficiencyPct / 100 * e / 96485.33212331
		require.InEpsilon(t, p.Bath.MassRemovedG, byCharge, 1e-9)
		require.InEpsilon(t, 100*2/(16.359504*0.25), p.Bath.EfficiencyPct, 1e-7, exposure)
	}
}

func TestAreasOfOneSkinAddUp(t *testing.T) {
	whole := part()
	split := part()
	split.Areas = append(split.Areas, split.Areas[1])
	split.Areas[1].AreaMM2, split.Areas[3].AreaMM2 = 2500, 7500
	split.Areas = append(split.Areas, removal.Area{Skin: region.Platform, Theta: 0 * s1.Degree})
	a, err := removal.New(load(t), whole, removal.Options{})
	require.NoError(t, err)
	b, err := removal.New(load(t), split, removal.Options{})
	require.NoError(t, err)
	require.Len(t, b.Skins, 3, "a skin without area is no skin of the part")
	require.InDelta(t, a.Bath.MassAddedG, b.Bath.MassAddedG, 1e-12)
	require.InDelta(t, a.Skins[1].AllowanceUM.Mean, b.Skins[1].AllowanceUM.Mean, 1e-9)
}
