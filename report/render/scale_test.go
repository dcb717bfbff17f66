package render

import (
	"math"
	"testing"

	"gonum.org/v1/plot/palette/brewer"
)

// Published tables at ten equal steps: viridis by van der Walt and Smith,
// cividis by Nunez, Anderton and Renslow.
var tables = []struct {
	name string
	m    Map
	tol  float64 // codes; what the doc comment promises
	want []uint32
}{
	{"viridis", Viridis, 4, []uint32{
		0x440154, 0x482878, 0x3E4A89, 0x31688E, 0x26828E, 0x1F9E89, 0x35B779, 0x6DCD59, 0xB4DE2C, 0xFDE725,
	}},
	{"cividis", Cividis, 0, []uint32{
		0x00204D, 0x00336F, 0x39486B, 0x575C6D, 0x707173, 0x8A8779, 0xA69D75, 0xC4B56C, 0xE4CF5B, 0xFFEA46,
	}},
}

func TestMapsAgainstPublishedTables(t *testing.T) {
	for _, tt := range tables {
		worst := 0.0
		for i, want := range tt.want {
			got := tt.m(float64(i) / float64(len(tt.want)-1)).SRGB()
			for k, g := range []uint8{got.R, got.G, got.B} {
				w := float64(want >> (16 - 8*k) & 255)
				if d := math.Abs(float64(g) - w); d > tt.tol {
					t.Errorf("%s at %d/9: part %d = %d, want %.0f", tt.name, i, k, g, w)
				} else {
					worst = math.Max(worst, d)
				}
			}
		}
		t.Logf("%s: worst difference %.0f codes", tt.name, worst)
	}
}

func TestCividisBetweenItsSteps(t *testing.T) {
	// The fifth-degree fit of M. Bostock, which is off by some codes where the
	// table's red leaves zero.
	fit := func(t float64) [3]float64 {
		return [3]float64{
			-4.54 - t*(35.34-t*(2381.73-t*(6402.7-t*(7024.72-t*2710.57)))),
			32.49 + t*(170.73+t*(52.82-t*(131.46-t*(176.58-t*67.37)))),
			81.24 + t*(442.36-t*(2482.43-t*(6167.24-t*(6614.94-t*2475.67)))),
		}
	}
	for i := range 101 {
		x := float64(i) / 100
		got := Cividis(x).SRGB()
		for k, w := range fit(x) {
			g := float64([]uint8{got.R, got.G, got.B}[k])
			if math.Abs(g-math.Min(math.Max(w, 0), 255)) > 15 {
				t.Errorf("part %d at %v = %v, fit %.1f", k, x, g, w)
			}
		}
	}
}

func TestMapsGrowBrighter(t *testing.T) {
	for _, tt := range tables {
		for i := range 100 {
			if a, b := tt.m(float64(i)/100).Luminance(), tt.m(float64(i+1)/100).Luminance(); b < a {
				t.Errorf("%s: luminance falls from %.4f to %.4f at %d %%", tt.name, a, b, i)
			}
		}
	}
}

func TestPuOrIsBrewers(t *testing.T) {
	p, err := brewer.GetPalette(brewer.TypeDiverging, "PuOr", 11)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range p.Colors() {
		r, g, b, _ := c.RGBA()
		got := PuOr(float64(i) / 10).SRGB()
		if uint32(got.R) != r>>8 || uint32(got.G) != g>>8 || uint32(got.B) != b>>8 {
			t.Errorf("class %d = %v, want %d %d %d", i, got, r>>8, g>>8, b>>8)
		}
	}
}

func TestScaleMarksOutOfRange(t *testing.T) {
	s := NewScale(PuOr, -10, 10)
	s.Under, s.Over = Hex(0xFF0000), Hex(0x00FF00)
	for _, tt := range []struct {
		v    float64
		want RGB
	}{{-10.1, s.Under}, {10.1, s.Over}, {0, PuOr(0.5)}, {10, PuOr(1)}, {-10, PuOr(0)}, {math.NaN(), s.Under}} {
		if got := s.At(tt.v); got != tt.want {
			t.Errorf("colour at %v = %v, want %v", tt.v, got, tt.want)
		}
	}
}

func TestTicks(t *testing.T) {
	for _, tt := range []struct {
		lo, hi float64
		n, dec int
		want   []float64
	}{
		{0, 150, 5, 0, []float64{0, 50, 100, 150}},
		{0, 0.9, 4, 1, []float64{0, 0.5}},
		{-20, 20, 4, 0, []float64{-20, -10, 0, 10, 20}},
		{0, 0.03, 3, 2, []float64{0, 0.01, 0.02, 0.03}},
	} {
		got, dec := Ticks(tt.lo, tt.hi, tt.n)
		if dec != tt.dec || len(got) != len(tt.want) {
			t.Errorf("Ticks(%v, %v, %d) = %v with %d decimals, want %v with %d", tt.lo, tt.hi, tt.n, got, dec, tt.want, tt.dec)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-tt.want[i]) > 1e-9 {
				t.Errorf("Ticks(%v, %v, %d) = %v, want %v", tt.lo, tt.hi, tt.n, got, tt.want)
			}
		}
	}
}

func TestColourCodesSurviveLinearLight(t *testing.T) {
	for v := range 256 {
		if got := toSRGB(toLinear(uint8(v))); int(got) != v {
			t.Errorf("code %d comes back as %d", v, got)
		}
	}
}

func TestContrastOfBlackAndWhite(t *testing.T) {
	// WCAG 2.2: 21 to 1.
	if got := Contrast(Hex(0), Hex(0xFFFFFF)); math.Abs(got-21) > 1e-6 {
		t.Errorf("contrast = %v, want 21", got)
	}
}

// The encoder's steps give what the formula gives: at each step, just below it
// and just above, and beyond both ends.
func TestEncoderIsTheFormula(t *testing.T) {
	e := newEncoder()
	try := func(v float32) {
		if got, want := e.at(v), toSRGB(v); got != want {
			t.Errorf("%v is encoded as %d, want %d", v, got, want)
		}
	}
	for _, v := range e.step[:255] {
		try(v)
		try(math.Nextafter32(v, -1))
		try(math.Nextafter32(v, 2))
	}
	for _, v := range []float32{-1, 0, 0.0031308, 0.5, 1, 1.5, float32(math.NaN())} {
		try(v)
	}
}
