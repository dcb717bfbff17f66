package html

import (
	"bytes"
	"context"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region"
	"skinstock/report/chart"
	"skinstock/report/sheet"
)

var lookDir = flag.String("look", "", "write pages, screenshots and prints into this folder")

func look(t testing.TB, name string, data []byte) {
	t.Helper()
	if *lookDir == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(*lookDir, name), data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// input returns a part with skins by angle alone, grown along its mean normals.
func input(m *mesh.Mesh) sheet.Input {
	um := [...]float64{region.Upskin: 82, region.Vertical: 96, region.Downskin: 141, region.Platform: 96}
	in := sheet.Input{
		Part: "arm", Recipe: "Ti-6Al-4V, 30 µm, immersion", Version: "skinstock 0.1.0", Assumed: true,
		Nominal: m, Grown: m.Clone(), BuildDir: r3.Vector{Z: 1},
		Skins:     make([]region.Skin, len(m.Facets)),
		Allowance: make(mesh.CornerField, len(m.Facets)),
		Deviation: make([]float64, len(m.Facets)), FinishedRa: make([]float64, len(m.Facets)),
	}
	sum := make([]r3.Vector, len(m.Vertices))
	amount := make([]float64, len(m.Vertices))
	for f, t := range m.Facets {
		switch n := m.FacetNormal(f); {
		case n.Z > 0.5:
			in.Skins[f] = region.Upskin
		case n.Z < -0.5:
			in.Skins[f] = region.Downskin
		default:
			in.Skins[f] = region.Vertical
		}
		for _, v := range t {
			sum[v] = sum[v].Add(m.AreaNormal(f))
			amount[v] = max(amount[v], um[in.Skins[f]]/1000)
		}
	}
	for i, v := range m.Vertices {
		in.Grown.Vertices[i] = v.Add(sum[i].Normalize().Mul(amount[i]))
	}
	for f, t := range m.Facets {
		for k, v := range t {
			in.Allowance[f][k] = amount[v]
		}
		in.Deviation[f] = 0.006 * math.Sin(m.Corner(f, 0).X/7)
		in.FinishedRa[f] = 0.9 + 0.2*float64(in.Skins[f])
	}
	n := len(m.Facets)
	in.Pins = []sheet.Pin{{Number: 1, At: m.Corner(n/3, 0)}, {Number: 2, At: m.Corner(n/2, 0), Strong: true}, {Number: 3, At: m.Corner(n-1, 0)}}
	in.Spots = []sheet.Spot{{Title: "thinnest wall", At: m.Corner(n/2, 0)}}
	return in
}

// bracketPage is the page of the bracket, made once: its pictures take a second.
var bracketPage = sync.OnceValues(func() (*Page, error) { return newFixture(solid.LanderBracket(1.2)) })

// fixture returns a full page that the test may change at its first level.
func fixture(t testing.TB) *Page {
	t.Helper()
	p, err := bracketPage()
	if err != nil {
		t.Fatal(err)
	}
	c := *p
	c.Findings, c.Files, c.Pairs = slices.Clone(p.Findings), slices.Clone(p.Files), slices.Clone(p.Pairs)
	c.Tables = slices.Clone(p.Tables)
	for i := range c.Tables {
		c.Tables[i].Rows = slices.Clone(c.Tables[i].Rows)
		for k := range c.Tables[i].Rows {
			c.Tables[i].Rows[k].Cells = slices.Clone(c.Tables[i].Rows[k].Cells)
		}
	}
	return &c
}

// newFixture makes a full page of a part.
func newFixture(m *mesh.Mesh) (*Page, error) {
	ctx := context.Background()
	in := input(m)
	s, err := sheet.NewStage(ctx, in, 0)
	if err != nil {
		return nil, err
	}
	p := &Page{
		Part: "lander-arm.stl", Recipe: in.Recipe, Version: in.Version,
		Summary: "Every surface was moved outwards by what the bath takes there; the grown part was measured against the nominal one.",
		Verdict: Verdict{"suited with changes", Warning, []string{"2 places finish with material left in inside corners", "one bore is deeper than the bath reaches"}},
		Figures: []Figure{
			{Label: "allowance", Value: "82 to 141", Unit: "µm", Assumed: true},
			{Label: "bath time", Value: "38.5", Unit: "min", Note: "governed by downskin", Assumed: true},
			{Label: "worst shortfall", Value: "0.4", Unit: "µm", Note: "limit 1 µm"},
			{Label: "worst excess", Value: "21", Unit: "µm", Note: "inside corners"},
			{Label: "mass added", Value: "3.12", Unit: "g"},
			{Label: "wetted area", Value: "96.8", Unit: "cm²"},
		},
		Findings: []Finding{
			{1, Warning, "inside_corner", "material stays in an inside corner", "widen the radius to 0.2 mm or accept it", "12.0, 3.1, 40.2", "21 µm", 12},
			{2, Error, "bore_unreached", "bore Ø 3.0 mm is polished to a depth of 4.2 of 18.0 mm", "open the far end or ream it", "40.0, 0.0, 12.0", "18 mm", 1},
			{3, Info, "mended", "2 duplicate facets were dropped", "", "", "", 2},
			{0, Info, "assumed_value", "the recipe holds 14 assumed values", "run coupons and fit the recipe", "", "", 14},
		},
		Tables: []Table{
			{"Bath sheet", "Estimates for planning.", []string{"quantity", "value", "unit"}, []Row{
				{[]string{"current", "145", "A"}, true}, {[]string{"energy", "12.4", "kWh"}, true}, {[]string{"mass removed", "5.11", "g"}, false},
			}},
			{"Recipe", "Where every value comes from.", []string{"value", "setting", "source"}, []Row{
				{[]string{"ra_um, upskin", "8.2", "assumed"}, true}, {[]string{"removal_um_min", "3.1", "measured, coupon series 7"}, false},
			}},
		},
		Cautions: []string{"Voltages above touch-safe limits; hot and corrosive electrolyte.", "Figures are estimates for planning, never a release."},
		Files:    []File{{"input", "lander-arm.stl", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"}, {"output", "lander-arm-grown.stl", "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752"}},
	}
	if err := p.AddPictures(ctx, s, nil); err != nil {
		return nil, err
	}
	var patches []chart.Patch
	for f, k := range in.Skins {
		n := m.FacetNormal(f)
		patches = append(patches, chart.Patch{
			Skin: k, AreaMM2: m.FacetArea(f), ThetaDeg: math.Acos(min(math.Abs(n.Z), 1)) * 180 / math.Pi,
			Value: 1000 * in.Allowance.At(f, 1./3, 1./3, 1./3),
		})
	}
	for _, f := range []func() (*chart.Chart, error){
		func() (*chart.Chart, error) { return chart.AllowanceByArea(slices.Values(patches)) },
		func() (*chart.Chart, error) { return chart.Orientation(slices.Values(patches), nil) },
		func() (*chart.Chart, error) {
			return chart.RoughnessBeforeAfter([]chart.Roughness{{Skin: region.Upskin, BeforeUM: 8.2, After: 0.9}, {Skin: region.Downskin, BeforeUM: 17, After: 1.4}}, 1)
		},
	} {
		c, err := f()
		if err != nil {
			return nil, err
		}
		p.Charts = append(p.Charts, c)
	}
	return p, nil
}

func write(t testing.TB, p *Page) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := p.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
