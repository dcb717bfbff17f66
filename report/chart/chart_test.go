package chart

import (
	"encoding/xml"
	"flag"
	"io"
	"iter"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"skinstock/region"
)

var lookDir = flag.String("look", "", "write the charts into this folder")

func patches() []Patch {
	var ps []Patch
	for i := range 1000 {
		t := float64(i) / 1000
		ps = append(ps, Patch{region.Upskin, 1, 60 * t, 82 + 4*t}, Patch{region.Vertical, 2, 60 + 30*t, 96 + 20*t*t},
			Patch{region.Downskin, 1.2, 55 * t, 141 - 10*t*t}, Patch{region.Platform, 0.2, 0, 96})
	}
	return ps
}

func check(t *testing.T, c *Chart, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(strings.NewReader(c.SVG))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", c.Title, err)
		}
		if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "script" || e.Name.Local == "image") {
			t.Errorf("%s: element %s", c.Title, e.Name.Local)
		}
	}
	if len(c.SVG) > 120_000 {
		t.Errorf("%s: %d bytes", c.Title, len(c.SVG))
	}
	if !strings.HasPrefix(c.SVG, "<svg") || strings.Contains(c.SVG, "@font-face") || c.Alt == "" || len(c.Rows) == 0 {
		t.Errorf("%s: prolog, fonts, no alternative text or no numbers", c.Title)
	}
	for _, r := range c.Rows {
		if len(r) != len(c.Head) {
			t.Errorf("%s: row of %d cells under %d heads", c.Title, len(r), len(c.Head))
		}
	}
	if *lookDir != "" {
		name := filepath.Join(*lookDir, "chart-"+strings.ReplaceAll(c.Title, " ", "-")+".svg")
		if err := os.WriteFile(name, []byte(c.SVG), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestCharts(t *testing.T) {
	ps := patches()
	c, err := AllowanceByArea(slices.Values(ps))
	check(t, c, err)
	dev := append([]Patch(nil), ps...)
	for i := range dev {
		dev[i].Value = 8 * math.Sin(float64(i)) * math.Sin(0.37*float64(i)) * math.Sin(0.17*float64(i))
	}
	c, err = DeviationHistogram(slices.Values(dev))
	check(t, c, err)
	c, err = RoughnessBeforeAfter([]Roughness{{region.Upskin, 8.2, 0.9}, {region.Vertical, 10, 1}, {region.Downskin, 17, 1.6}}, 1)
	check(t, c, err)
	c, err = Orientation(slices.Values(ps), []Curve{
		{"upskin", []float64{0, 30, 60, 90}, []float64{6, 12, 9, 8}}, {"downskin", []float64{0, 30, 60, 90}, []float64{24, 18, 11, 8}},
	})
	check(t, c, err)
}

func TestTilt(t *testing.T) {
	a := TiltCurve{"towards <x>", []float64{-90, 0, 45, 50, 90}, []float64{300, 250, 100, 120, 400}}
	c, err := Tilt([]TiltCurve{a, {"towards y", a.Deg, []float64{300, 250, 300, 310, 500}}})
	check(t, c, err)
	if !strings.Contains(c.Alt, "as planned 2.50 cm²") || !strings.Contains(c.Alt, "towards <x> least 1.00 cm² at 45°") {
		t.Errorf("text %q", c.Alt)
	}
	// The curve is drawn at every tilt; the table lists every 15 degrees.
	if got := c.Rows[2]; len(c.Rows) != 4 || len(got) != 3 || got[0] != "45" || got[1] != "1.00" || got[2] != "3.00" {
		t.Errorf("row at 45 degrees %q", got)
	}
	if c, err = Tilt(nil); err != nil || strings.Contains(c.SVG, "NaN") {
		t.Errorf("no curve: %v", err)
	}
	if _, err := Tilt([]TiltCurve{a, {"b", []float64{0}, []float64{1}}}); err == nil {
		t.Error("curves of different tilts are drawn")
	}
}

func TestSharesAddUp(t *testing.T) {
	b := spread(slices.Values(patches()), func(p Patch) float64 { return p.Value }, 0, 141, 24)
	var c Chart
	sum := 0.0
	for _, k := range b.stack(&c, "%g") {
		sum += k.y1 - k.y0
	}
	if math.Abs(sum-100) > 1e-9 {
		t.Errorf("shares add up to %v %%", sum)
	}
	// Steps of 10 um: 82 to 86 um lies in 80 to 90 whole, and nothing else does.
	if got := b.area[8]; b.step != 10 || math.Abs(got[region.Upskin]-1000) > 1e-9 || got[region.Downskin] != 0 {
		t.Errorf("step of %v um holds %v", b.step, got)
	}
}

// One outlier must not squeeze the rest into one bar: the steps leave it out
// and the end bar counts it.
func TestDeviationBeyondTheScale(t *testing.T) {
	var ps []Patch
	for i := range 1000 {
		ps = append(ps, Patch{region.Upskin, 1, 0, 10 * float64(i) / 1000})
	}
	ps = append(ps, Patch{region.Upskin, 1, 0, 500}, Patch{region.Upskin, 1, 0, -80})
	c, err := DeviationHistogram(slices.Values(ps))
	check(t, c, err)
	if len(c.Rows) < 20 {
		t.Fatalf("%d rows: the outliers squeeze the rest", len(c.Rows))
	}
	last := c.Rows[len(c.Rows)-1]
	// Steps of 0.5 um up to 10: the end bar has 50 patches of the 1002 and the outlier.
	if last[0] != "9.5 and more" || last[1] != "5.1" {
		t.Errorf("end bar %q, want 5.1 %% at 9.5 um and more", last)
	}
	if c.Rows[0][0] != "-0.5 and less" || c.Rows[0][1] != "0.1" {
		t.Errorf("first bar %q, want 0.1 %% at -0.5 um and less", c.Rows[0])
	}
}

func TestEmptyAndBrokenInput(t *testing.T) {
	for _, ps := range [][]Patch{nil, {{Value: math.NaN(), AreaMM2: 1}}, {{Value: 0, AreaMM2: 0}}} {
		for _, f := range []func(iter.Seq[Patch]) (*Chart, error){AllowanceByArea, DeviationHistogram, func(p iter.Seq[Patch]) (*Chart, error) { return Orientation(p, nil) }} {
			c, err := f(slices.Values(ps))
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(c.SVG, "NaN") || strings.Contains(c.Alt, "NaN") {
				t.Errorf("%s: not a number in the chart", c.Title)
			}
		}
	}
	if _, err := Orientation(slices.Values([]Patch(nil)), []Curve{{"x", []float64{1}, nil}}); err == nil {
		t.Error("a curve without values is drawn")
	}
}

func TestSameBytes(t *testing.T) {
	a, err := AllowanceByArea(slices.Values(patches()))
	check(t, a, err)
	b, err := AllowanceByArea(slices.Values(patches()))
	check(t, b, err)
	if a.SVG != b.SVG {
		t.Error("two runs write different charts")
	}
}

func TestRoundDown(t *testing.T) {
	for v, want := range map[float64]float64{1: 1, 1.9: 1, 2: 2, 4.9: 2, 5: 5, 9.9: 5, 0.3: 0.2, 17: 10} {
		if got := roundDown(v); math.Abs(got-want) > 1e-12 {
			t.Errorf("roundDown(%v) = %v, want %v", v, got, want)
		}
	}
}
