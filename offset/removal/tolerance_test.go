package removal_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
	"skinstock/region"
)

// The grades of ISO 1302:1992 (references.md 2), exact, and what qualifies for them.
func TestNGrades(t *testing.T) {
	want := []float64{0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.3, 12.5, 25, 50}
	for i, w := range want {
		require.Equal(t, fmt.Sprintf("N%d", i+1), removal.NGrade(w))
		if i > 0 {
			require.Equal(t, fmt.Sprintf("N%d", i+1), removal.NGrade(math.Nextafter(want[i-1], w)), "just beyond the one before")
		}
	}
	require.Equal(t, "N10", removal.NGrade(7.4))
	require.Equal(t, "N1", removal.NGrade(0.01))
	require.Equal(t, "", removal.NGrade(50.1))
}

// ISO 286-1 widths of references.md 9, exact; then by the standard's formula,
// i = 0.45 D^(1/3) + 0.001 D, which rounding leaves within 6 %.
func TestITWidths(t *testing.T) {
	table := []struct {
		above, upTo float64
		w           []float64
	}{
		{6, 10, []float64{6, 9, 15, 22, 36, 58, 90, 150, 220, 360}},
		{10, 18, []float64{8, 11, 18, 27, 43, 70, 110, 180, 270, 430}},
		{18, 30, []float64{9, 13, 21, 33, 52, 84, 130, 210, 330, 520}},
		{30, 50, []float64{11, 16, 25, 39, 62, 100, 160, 250, 390, 620}},
		{50, 80, []float64{13, 19, 30, 46, 74, 120, 190, 300, 460, 740}},
		{80, 120, []float64{15, 22, 35, 54, 87, 140, 220, 350, 540, 870}},
	}
	units := []float64{7, 10, 16, 25, 40, 64, 100, 160, 250, 400}
	for _, r := range table {
		d := math.Sqrt(r.above * r.upTo)
		i := 0.45*math.Cbrt(d) + 0.001*d
		for k, w := range r.w {
			for _, size := range []float64{r.above + 0.001, (r.above + r.upTo) / 2, r.upTo} {
				got, err := removal.ITWidth(5+k, size)
				require.NoError(t, err)
				require.Equal(t, w, got)
			}
			require.InEpsilon(t, units[k]*i, w, 0.06)
		}
	}
	for _, size := range []float64{6, 120.1, 0, -5, math.NaN()} {
		_, err := removal.ITWidth(7, size)
		require.ErrorIs(t, err, removal.ErrTolerance)
	}
	_, err := removal.ITWidth(4, 50)
	require.ErrorIs(t, err, removal.ErrTolerance)
}

// ISO 2768-1 deviations of references.md 9, exact at both ends of each range.
func TestGeneralTolerances(t *testing.T) {
	ranges := [][2]float64{{0.5, 3}, {3.001, 6}, {6.001, 30}, {30.001, 120}, {120.001, 400}, {400.001, 1000}}
	for class, dev := range map[string][]float64{
		"f": {0.05, 0.05, 0.1, 0.15, 0.2, 0.3},
		"m": {0.1, 0.1, 0.2, 0.3, 0.5, 0.8},
		"c": {0.2, 0.3, 0.5, 0.8, 1.2, 2},
		"v": {math.NaN(), 0.5, 1, 1.5, 2.5, 4},
	} {
		for i, r := range ranges {
			for _, size := range r {
				got, err := removal.GeneralDeviation(class, size)
				if math.IsNaN(dev[i]) {
					require.ErrorIs(t, err, removal.ErrTolerance)
					continue
				}
				require.NoError(t, err)
				require.Equal(t, dev[i], got, "%s at %g", class, size)
			}
		}
	}
	for _, size := range []float64{0.49, 1000.1, math.NaN()} {
		_, err := removal.GeneralDeviation("m", size)
		require.ErrorIs(t, err, removal.ErrTolerance)
	}
	_, err := removal.GeneralDeviation("x", 10)
	require.ErrorIs(t, err, removal.ErrTolerance)
}

func TestParseWanted(t *testing.T) {
	for _, c := range []struct {
		text string
		half float64
	}{
		{"0.1", 100}, {"±0.05", 50}, {"+/-0.2 mm", 200}, {"IT9", 31}, {"it11", 80}, {"m", 300}, {"2768-m", 300}, {"ISO 2768-mK", 300}, {"F", 150},
	} {
		w, err := removal.ParseWanted(c.text, 50)
		require.NoError(t, err, c.text)
		require.InDelta(t, c.half, w.HalfUM, 1e-9, c.text)
		require.NotEmpty(t, w.Name)
	}
	for _, text := range []string{"", "0", "-1e9", "IT", "IT99", "h7", "2768-x", "nan", "inf"} {
		_, err := removal.ParseWanted(text, 50)
		require.ErrorIs(t, err, removal.ErrTolerance, text)
	}
	_, err := removal.ParseWanted("IT9", 150)
	require.ErrorContains(t, err, "give the tolerance as a number in mm")
}

// The band of the default recipe by hand: rate 2 +- 0.6 um/min, Rz/Ra 5 +- 1.5,
// peaks 0.6 +- 0.1, Ra 28 +- 10, oversize 20 +- 20 on downskins; time is set.
func TestToleranceByHand(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	b, err := p.Tolerance(50, nil)
	require.NoError(t, err)
	rate, rz, share, ra, over := p.TimeMin*0.6, 0.6*28*1.5, 28*5*0.1, 0.6*5*10.0, 20.0
	down := b.Faces[2]
	require.Equal(t, region.Downskin, down.Skin)
	require.InDelta(t, math.Sqrt(rate*rate+rz*rz+share*share+ra*ra+over*over), down.RSSUM, 1e-6)
	require.InDelta(t, rate+rz+share+ra+over, down.WorstUM, 1e-6)
	require.Equal(t, "bath.rate_um_per_min", b.Contributions[0].Path)
	require.InDelta(t, -rate, b.Contributions[0].FaceUM[0], 1e-6, "a faster bath leaves the face short")

	// A wall against a wall: everything is shared, so the size is off by twice the face.
	for _, s := range b.Sizes {
		if s.From == region.Vertical && s.To == region.Vertical {
			require.InDelta(t, 2*b.Faces[1].RSSUM, s.RSSUM, 1e-9)
			require.InDelta(t, 2*b.Faces[1].WorstUM, s.WorstUM, 1e-9)
			require.InDelta(t, math.Hypot(s.RSSUM, 100), s.WithPrintUM, 1e-9)
		}
		// Up against down: rate, Rz/Ra and peaks are shared, each Ra and the oversize are not.
		if s.From == region.Upskin && s.To == region.Downskin {
			rz, share, raUp := 0.6*40*1.5, 40*5*0.1, 0.6*5*5.0
			require.InDelta(t, math.Sqrt(4*rate*rate+rz*rz+share*share+ra*ra+raUp*raUp+over*over), s.RSSUM, 1e-6)
		}
	}
	// Levelling depth, floor and target move the finish, not the size.
	for _, c := range b.Contributions {
		require.NotContains(t, c.Path, "finish.")
	}
	require.Contains(t, b.Silent, "roughness.classes.upskin.oversize_um")
}

func TestToleranceVerdicts(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	b, err := p.Tolerance(50, nil)
	require.NoError(t, err)
	wall := b.Sizes[3]
	require.Equal(t, [2]region.Skin{region.Vertical, region.Vertical}, [2]region.Skin{wall.From, wall.To})
	for _, c := range []struct {
		half float64
		want removal.Verdict
	}{
		{wall.WorstPrintUM + 1, removal.Inside}, {wall.WithPrintUM + 1, removal.Likely}, {wall.WithPrintUM - 1, removal.Exceeded},
	} {
		b, err := p.Tolerance(50, &removal.Wanted{HalfUM: c.half})
		require.NoError(t, err)
		require.Equal(t, c.want, b.Sizes[3].Verdict)
	}
	// 2 x about 176 um of zone at 50 mm needs IT13 (390 um).
	w, err := removal.ITWidth(wall.ITGrade, 50)
	require.NoError(t, err)
	require.GreaterOrEqual(t, w, 2*wall.WithPrintUM)
	w, err = removal.ITWidth(wall.ITGrade-1, 50)
	require.NoError(t, err)
	require.Less(t, w, 2*wall.WithPrintUM)
}

// An error of 20 um a face is 40 um on the size, and with its sign both ways IT8 to IT9 wide at 50 mm (references.md 9).
func TestTwentyMicrometresAFace(t *testing.T) {
	it8, err := removal.ITWidth(8, 50)
	require.NoError(t, err)
	it9, err := removal.ITWidth(9, 50)
	require.NoError(t, err)
	require.GreaterOrEqual(t, 2*20.0, it8)
	require.LessOrEqual(t, 2*20.0, it9)
}

func TestSensitivity(t *testing.T) {
	p := plan(t, load(t), removal.Options{})
	s, err := p.Sensitivity(0.2)
	require.NoError(t, err)
	at := map[string]removal.Swing{}
	for i, x := range s {
		at[x.Path] = x
		if i > 0 {
			require.LessOrEqual(t, x.Rank, s[i-1].Rank, "not ranked")
		}
	}
	// Levelling depth: allowance, time and mass move by 20 % of what is taken.
	R := 40 * math.Log(27.5/1.1)
	d := at["finish.levelling.depth_um"]
	require.InDelta(t, 0.2*R, d.High.AllowanceUM, 1e-9)
	require.InDelta(t, -0.2*R, d.Low.AllowanceUM, 1e-9)
	require.InDelta(t, 0.1*R, d.High.TimeMin, 1e-9)
	require.InDelta(t, 0.2*p.Bath.MassRemovedG, d.High.MassG, 1e-9)
	require.Equal(t, "finish.levelling.depth_um", s[0].Path)
	// The rate moves the time only: 1/0.8 and 1/1.2.
	v := at["bath.rate_um_per_min"]
	require.InDelta(t, 0, v.High.AllowanceUM, 1e-9)
	require.InDelta(t, p.TimeMin*(1/1.2-1), v.High.TimeMin, 1e-9)
	require.InDelta(t, p.TimeMin*(1/0.8-1), v.Low.TimeMin, 1e-9)
	// Peak share of downskins moves the stand-off.
	require.InDelta(t, 0.2*0.6*5*(12*40+9*100+28*60)/200, at["roughness.peak_share"].High.AllowanceUM, 1e-9)
	// The voltage moves none of the three.
	require.NotContains(t, at, "bath.voltage_v")
	require.NotContains(t, at, "geometry.max_slope")
}

func TestSensitivityStopsAtWhatIsPossible(t *testing.T) {
	r := load(t, "peak_share: {value: 0.6, source: assumed, uncertainty: 0.1", "peak_share: {value: 0.9, source: assumed, uncertainty: 0.1",
		"floor_ra_um: {value: 0.5, source: assumed, uncertainty: 0.3}", "floor_ra_um: 1.4", "rate_um_per_min: {value: 2,", "rate_um_per_min: {value: 3.9,")
	p := plan(t, r, removal.Options{})
	s, err := p.Sensitivity(0.2)
	require.NoError(t, err)
	at := map[string]removal.Swing{}
	for _, x := range s {
		at[x.Path] = x
	}
	require.True(t, at["roughness.peak_share"].High.Limited)
	require.Less(t, at["roughness.peak_share"].High.Value, 1.0)
	require.True(t, at["finish.floor_ra_um"].High.Unreached, "a floor of 1.68 um is above the target")
	require.True(t, at["bath.rate_um_per_min"].High.Unreached, "4.68 um/min is beyond the charge")
}
