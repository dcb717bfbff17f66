package calibrate_test

import (
	"bytes"
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
	"skinstock/offset/calibrate"
)

const head = "coupon,inclination_deg,side,ra_before_um,ra_after_um,thickness_before_mm,thickness_after_mm,minutes,current_a,area_cm2\n"

func TestRead(t *testing.T) {
	c, err := calibrate.Read("coupons.csv", strings.NewReader("# lot 7\n"+head+"A1,30,down,28,2.1,3.000,2.790,50,5,20\n\nA2, 90 , UP ,9.2,,,,,,\n"))
	require.NoError(t, err)
	require.Len(t, c, 2)
	require.Equal(t, "A1", c[0].ID)
	require.True(t, c[0].Down)
	require.Equal(t, 3, c[0].Line)
	require.Equal(t, 2.79, c[0].ThicknessAfterMM)
	require.Equal(t, 5, c[1].Line)
	require.False(t, c[1].Down)
	require.True(t, math.IsNaN(c[1].RaAfterUM))
	require.True(t, math.IsNaN(c[1].MassAfterG))

	c, err = calibrate.Read("semi.csv", strings.NewReader("\xef\xbb\xbfinclination_deg;side;ra_before_um\r\n45;up;10.5\r\n"))
	require.NoError(t, err)
	require.Equal(t, 10.5, c[0].RaBeforeUM)
	require.Equal(t, "line 2", c[0].ID)
}

const holes = "coupon,hole_diameter_mm,hole_depth_mm,at_depth_mm,hole_removal_um\n"

// Every bad row is named by line, column and cause.
func TestBadRows(t *testing.T) {
	const good = "A1,30,down,28,2.1,3.000,2.790,50,5,20\n"
	for _, c := range []struct{ name, text, says string }{
		{"empty", "", "line 1: the table has no coupons"},
		{"header only", head, "line 1: the table has no coupons"},
		{"unknown column", "inclination,side,ra_before_um\n", `line 1: column "inclination" is not known`},
		{"column missing", "inclination_deg,ra_before_um\n30,28\n", "line 1: side: column is missing"},
		{"column twice", "side,side,inclination_deg,ra_before_um\n", "line 1: side: column given twice"},
		{"word for a number", head + good + "A2,thirty,down,28,2.1,3,2.79,50,5,20\n", `line 3: inclination_deg: "thirty" is not a number`},
		{"unit in a cell", head + "A2,30,down,28um,2.1,3,2.79,50,5,20\n", `line 2: ra_before_um: "28um" is not a number`},
		{"nan", head + "A2,30,down,NaN,2.1,3,2.79,50,5,20\n", `line 2: ra_before_um: "NaN" is not a number`},
		{"infinite", head + "A2,30,down,inf,2.1,3,2.79,50,5,20\n", "line 2: ra_before_um: inf cannot be"},
		{"decimal comma", head + "A2,30,down,28,2,1,3,2.79,50,5,20\n", "line 2: 11 cells where the first row has 10"},
		{"cells missing", head + "A2,30,down,28\n", "line 2: 4 cells where the first row has 10"},
		{"negative", head + "A2,30,down,-28,2.1,3,2.79,50,5,20\n", "line 2: ra_before_um: -28 cannot be; give more than 0 and at most 500"},
		{"beyond a wall", head + "A2,135,down,28,2.1,3,2.79,50,5,20\n", "line 2: inclination_deg: 135 cannot be"},
		{"no side", head + "A2,30,,28,2.1,3,2.79,50,5,20\n", `line 2: side: "" is not a side; write up or down`},
		{"sideways", head + "A2,30,left,28,2.1,3,2.79,50,5,20\n", `line 2: side: "left" is not a side`},
		{"no inclination", head + "A2,,up,28,2.1,3,2.79,50,5,20\n", "line 2: inclination_deg: the cell is empty"},
		{"no roughness", head + "A2,30,up,,2.1,3,2.79,50,5,20\n", "line 2: ra_before_um: the cell is empty"},
		{"grown thicker", head + "A2,30,up,28,2.1,3,3.1,50,5,20\n", "line 2: thickness_after_mm: 3.1 is not below 3 before the bath"},
		{"half a pair", head + "A2,30,up,28,2.1,3,,50,5,20\n", "line 2: thickness is given before or after only"},
		{"no depth", head + "A2,30,up,28,2.1,,,50,5,20\n", "line 2: ra_after_um: a finished roughness without a depth tells nothing"},
		{"zero minutes", head + "A2,30,up,28,2.1,3,2.79,0,5,20\n", "line 2: minutes: 0 cannot be"},
		{"open quote", head + "\"A2,30,up,28,2.1,3,2.79,50,5,20\n", "the row cannot be read"},
		{"Rz below twice Ra", "inclination_deg,side,ra_before_um,rz_before_um\n30,up,10,15\n", "line 2: rz_before_um: 15 um with Ra 10 um cannot be"},
		{"hole without a place", holes + "H1,4,12,,80\n", "line 2: at_depth_mm: the cell is empty in a row with hole_diameter_mm"},
		{"hole without removal", holes + "H1,4,12,5,\n", "line 2: hole_removal_um: the cell is empty"},
		{"below the bottom", holes + "H1,4,12,13,80\n", "line 2: at_depth_mm: 13 mm lie below the bottom at 12 mm"},
		{"hole of nothing", holes + "H1,0,12,3,80\n", "line 2: hole_diameter_mm: 0 cannot be"},
		{"neither hole nor skin", "inclination_deg,ra_before_um,hole_diameter_mm,at_depth_mm,hole_removal_um\n30,12,,3,80\n", `line 2: side: "" is not a side`},
	} {
		_, err := calibrate.Read("coupons.csv", strings.NewReader(c.text))
		var te *calibrate.TableError
		require.ErrorAs(t, err, &te, c.name)
		require.ErrorIs(t, err, calibrate.ErrCoupons)
		require.Len(t, te.Problems, 1, "%s: %v", c.name, err)
		require.Contains(t, err.Error(), c.says, c.name)
		require.NotEmpty(t, te.Problems[0].Remedy, c.name)
		require.NotContains(t, err.Error(), "\n", c.name)
	}
}

// All bad rows come back together; nothing is dropped in silence.
func TestAllBadRows(t *testing.T) {
	text := head + "A1,30,down,28,2.1,3,2.79,50,5,20\n" + strings.Repeat("A2,x,down,28,2.1,3,2.79,50,5,20\n", 30)
	_, err := calibrate.Read("coupons.csv", strings.NewReader(text))
	var te *calibrate.TableError
	require.ErrorAs(t, err, &te)
	require.Len(t, te.Problems, 20)
	require.Equal(t, 10, te.More)
	require.Equal(t, 3, te.Problems[0].Line)
	require.Equal(t, 22, te.Problems[19].Line)
	require.ErrorContains(t, err, "and 10 problems more")
}

func TestReadErrorsAndHugeFiles(t *testing.T) {
	boom := errors.New("boom")
	_, err := calibrate.Read("x", errReader{boom})
	require.ErrorIs(t, err, boom)
	_, err = calibrate.Read("x", bytes.NewReader(bytes.Repeat([]byte("1,up,2\n"), 2<<20)))
	require.ErrorContains(t, err, "more than 8 MiB")
}

type errReader struct{ err error }

func (e errReader) Read([]byte) (int, error) { return 0, e.err }

// The example table of the repository reads and fits.
func TestExampleCoupons(t *testing.T) {
	f, err := os.Open(meshtest.Testdata(t, "coupons", "pass-bench.csv"))
	require.NoError(t, err)
	defer f.Close()
	c, err := calibrate.Read("pass-bench.csv", f)
	require.NoError(t, err)
	res, err := calibrate.Run(c, base(t), calibrate.Options{Name: "bench", By: "pass-bench.csv"})
	require.NoError(t, err)
	for _, p := range res.Parameters {
		v := known.of(t, p)
		require.InEpsilon(t, v, p.Value, 0.25, p.Label) // 8 coupons each at 10 % scatter
	}
	require.Contains(t, string(res.YAML), "source: measured, by: \"pass-bench.csv\"")
	require.Len(t, res.Outliers, 1, "%+v", res.Outliers)
	require.Equal(t, "D30-60", res.Outliers[0].ID)
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(head + "A1,30,down,28,2.1,3.000,2.790,50,5,20\n"))
	f.Add([]byte("inclination_deg;side;ra_before_um\n45;up;10.5\n"))
	f.Add([]byte("\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := calibrate.Read("fuzz", bytes.NewReader(data))
		if err == nil && len(c) == 0 {
			t.Fatal("no coupons and no error")
		}
		if err != nil && !errors.Is(err, calibrate.ErrCoupons) {
			t.Fatal(err)
		}
	})
}
