package sheet

import (
	"bytes"
	"context"
	"errors"
	"image"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
	"skinstock/region"
	"skinstock/report/render"
)

var ctx = context.Background()

func stage(t testing.TB, in Input, workers int) *Stage {
	t.Helper()
	s, err := NewStage(ctx, in, workers)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func small() Input {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: 20, Z: 10})
	return example("box", m, r3.Vector{Z: 1}, [4]float64{80, 95, 140, 95})
}

func TestViewsStandOnTheBuildDirection(t *testing.T) {
	for _, b := range []r3.Vector{{Z: 1}, {Z: -1}, {X: 1}, {Y: -2}, {X: 0.3, Y: -0.5, Z: 0.7}} {
		for _, v := range Views {
			c := v.Camera(b)
			u := b.Normalize()
			// Upright in the picture: nothing of it to the side, and upwards.
			if math.Abs(u.Dot(c.Right)) > 1e-12 || u.Dot(c.Up) < 0.8 {
				t.Errorf("%v with build direction %v: (%.3f, %.3f) in the picture", v, b, u.Dot(c.Right), u.Dot(c.Up))
			}
			if got := u.Dot(c.Toward); (v == Above) != (got > 0.1) || (v == Below) != (got < -0.1) {
				t.Errorf("%v with build direction %v: the eye is at height %.3f", v, b, got)
			}
			if d := c.Right.Cross(c.Up).Distance(c.Toward); d > 1e-12 {
				t.Errorf("%v with build direction %v: mirrored picture", v, b)
			}
		}
	}
	if c := Front.Camera(r3.Vector{Z: 1}); c.Right.Distance(r3.Vector{X: 1}) > 1e-12 || c.Toward.Distance(r3.Vector{Y: -1}) > 1e-12 {
		t.Errorf("front view of a part built along z looks along %v with %v to the right", c.Toward, c.Right)
	}
}

func TestCellsDoNotOverlapAndHoldThePart(t *testing.T) {
	area := image.Rect(20, 84, 1580, 1032)
	for _, size := range [][]point{
		{{50, 50}, {50, 50}, {50, 50}, {50, 50}},    // cube
		{{300, 60}, {300, 60}, {300, 5}, {20, 5}},   // long
		{{20, 400}, {20, 380}, {10, 400}, {8, 400}}, // tower
		{{0.3, 0.2}, {0.3, 0.2}, {0.3, 0.001}, {0.2, 0.001}},
		{{4000, 4000}, {4000, 4000}, {4000, 1}, {4000, 1}},
	} {
		p := arrange(area, size, 2)
		var all []image.Rectangle
		seen := map[cell]bool{}
		for r, row := range p.cells {
			for c, q := range row {
				rc := p.rects[r][c]
				if !rc.In(area) {
					t.Errorf("%v: cell %v outside the area", size, rc)
				}
				for _, o := range all {
					if rc.Overlaps(o) {
						t.Errorf("%v: cells %v and %v overlap", size, rc, o)
					}
				}
				all = append(all, rc)
				seen[q] = true
				s := size[q.view]
				// Rounding to pixels takes up to one.
				if s.x*p.pxPerMM > float64(rc.Dx()-2*cellSide)+1 || s.y*p.pxPerMM > float64(rc.Dy()-cellTop-cellBottom)+1 {
					t.Errorf("%v: part of %.1f x %.1f px in a cell of %v", size, s.x*p.pxPerMM, s.y*p.pxPerMM, rc)
				}
			}
		}
		if len(seen) != 8 {
			t.Errorf("%v: %d pictures, want 8", size, len(seen))
		}
	}
}

func TestSheetSameBytesWhateverTheWorkers(t *testing.T) {
	in := example("bracket", solid.LanderBracket(3), r3.Vector{Z: 1}, [4]float64{80, 95, 140, 95})
	var want []byte
	for _, n := range []int{1, 2, 7} {
		img, err := stage(t, in, n).Sheet(ctx, Options{Width: 1200, Height: 800})
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := WritePNG(&b, img); err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = b.Bytes()
		} else if !bytes.Equal(want, b.Bytes()) {
			t.Errorf("%d workers write another file than one", n)
		}
	}
}

func TestClassColoursInThePicture(t *testing.T) {
	// The front of the box is vertical and fills the picture's middle: grey as
	// in the legend, but for the shading, which keeps the three parts equal.
	s := stage(t, small(), 0)
	f, err := s.Picture(ctx, Front, Skins, 200, 120, 0)
	if err != nil {
		t.Fatal(err)
	}
	c := f.Image.RGBAAt(100, 60)
	if c.R != c.G || c.G != c.B || c.R < 0x90 || c.R > 0xBB {
		t.Errorf("vertical skin is drawn %v, want a grey up to BB", c)
	}
	if id := f.Facet(100, 60); s.in.Skins[id] != region.Vertical {
		t.Errorf("facet in the middle of the front view is %v", s.in.Skins[id])
	}
}

func TestAllowanceScaleStartsAtZeroAndHoldsAll(t *testing.T) {
	s := stage(t, small(), 0)
	if s.scales[Allowance].Lo != 0 || s.scales[Allowance].Hi < 95 || s.scales[Allowance].Hi > 110 {
		t.Errorf("scale from %v to %v for allowances up to 95 um", s.scales[Allowance].Lo, s.scales[Allowance].Hi)
	}
	// Area of the box: 600 up, 600 platform, 1000 vertical.
	if got := s.areas[region.Vertical].areaMM2; math.Abs(got-1000) > 1e-9 {
		t.Errorf("vertical area = %v, want 1000", got)
	}
}

// The grown part's facets may be others than the nominal one's, as after cutting:
// the classes' means are over the nominal part all the same.
func TestMeanAllowanceOfOtherFacets(t *testing.T) {
	plain := stage(t, small(), 0)
	in := small()
	in.Grown = in.Grown.Clone()
	in.Grown.Facets = append(in.Grown.Facets[4:], in.Grown.Facets[:4]...)
	for g := range in.Grown.Facets {
		in.NominalOf = append(in.NominalOf, int32((g+4)%len(in.Grown.Facets)))
	}
	other := stage(t, in, 0)
	for k := range plain.areas {
		got, want := other.areas[k].mean[Allowance], plain.areas[k].mean[Allowance]
		if got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%v: mean allowance %v um, want %v", region.Skin(k), got, want)
		}
	}
	if got, want := other.figures[Allowance].mean, plain.figures[Allowance].mean; math.Abs(got-want) > 1e-9 {
		t.Errorf("mean allowance of the grown part %v um, want %v", got, want)
	}
}

func TestNoAllowanceAtAll(t *testing.T) {
	in := small()
	for f := range in.Allowance {
		in.Allowance[f] = [3]float64{}
	}
	if _, err := stage(t, in, 0).Sheet(ctx, Options{}); err != nil {
		t.Fatal(err)
	}
}

func TestHostileNamesStayInTheirPlace(t *testing.T) {
	in := small()
	least := Options{Width: minWidth, Height: minHeight}
	plain, err := stage(t, in, 0).Sheet(ctx, least)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{
		strings.Repeat("<script>alert(1)</script>", 400),
		strings.Repeat("W", 10000),
		"\u202Eevil\x00\x1b[2J\nname\u2028",
		strings.Repeat("שלום", 2500),
		"\xff\xfe\xfd",
	} {
		in.Part, in.Recipe, in.Version = name, name, name
		img, err := stage(t, in, 0).Sheet(ctx, least)
		if err != nil {
			t.Fatal(err)
		}
		// Below the heading nothing changes, and the margins stay free.
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				free := x < margin-2 || x >= img.Rect.Dx()-margin+2
				if (y >= headHeight || free) && img.RGBAAt(x, y) != plain.RGBAAt(x, y) {
					t.Fatalf("%.20q: pixel %d, %d differs from the plain sheet", name, x, y)
				}
			}
		}
	}
}

func TestInputIsChecked(t *testing.T) {
	for name, spoil := range map[string]func(*Input){
		"no mesh":        func(in *Input) { in.Grown = nil },
		"few skins":      func(in *Input) { in.Skins = in.Skins[1:] },
		"few allowances": func(in *Input) { in.Allowance = in.Allowance[1:] },
		"few values":     func(in *Input) { in.Deviation = in.Deviation[1:] },
		"other facets":   func(in *Input) { in.NominalOf = []int32{0} },
		"no direction":   func(in *Input) { in.BuildDir = r3.Vector{} },
		"wrong keep":     func(in *Input) { in.Keep = []Keep{Masked} },
	} {
		in := small()
		spoil(&in)
		if _, err := NewStage(ctx, in, 0); !errors.Is(err, ErrInput) {
			t.Errorf("%s: error = %v, want ErrInput", name, err)
		}
	}
	if _, err := stage(t, small(), 0).Sheet(ctx, Options{Width: 300, Height: 200}); !errors.Is(err, ErrInput) {
		t.Errorf("small sheet: error = %v, want ErrInput", err)
	}
}

func TestWidestPlace(t *testing.T) {
	const w, h = 60, 40
	class := make([]int8, w*h)
	for y := range h {
		for x := range w {
			if x >= 10 && x < 51 && y >= 5 && y < 26 {
				class[y*w+x] = 2
			}
		}
	}
	x, y, room := widest(class, w, h, 2)
	// The block's middle is 11 pixels from its upper and lower neighbours.
	if y != 15 || x != 30 || math.Abs(room-11) > 0.01 {
		t.Errorf("widest place %d, %d with %.2f px of room", x, y, room)
	}
}

func TestScaleBarIsRound(t *testing.T) {
	for _, px := range []float64{0.01, 0.3, 1, 4.4, 17, 230, 1e4} {
		if mm := largestRound(110 / px); mm*px > 110 || mm*px < 110/2.6 {
			t.Errorf("%v px/mm: a bar of %v mm is %v px long", px, mm, mm*px)
		}
	}
	for mm, want := range map[float64]string{50: "50 mm", 0.5: "0.5 mm", 0.02: "20 µm"} {
		if got := length(mm); got != want {
			t.Errorf("length(%v) = %q, want %q", mm, got, want)
		}
	}
}

func TestStylesDifferWithoutColour(t *testing.T) {
	// In greys the classes differ in lightness or in hatch: no two plain ones.
	seen := map[render.Hatch]bool{}
	for _, k := range region.Skins {
		if seen[Styles[k].Hatch] {
			t.Errorf("%v has the hatch of another class", k)
		}
		seen[Styles[k].Hatch] = true
	}
}

func TestEveryChoiceOfViewsAndLayers(t *testing.T) {
	s := stage(t, small(), 0)
	for mask := 1; mask < 1<<len(Views); mask++ {
		o := Options{Width: minWidth, Height: minHeight}
		for i, v := range Views {
			if mask>>i&1 != 0 {
				o.Views = append(o.Views, v)
			}
		}
		for _, o.Layers = range [][]Layer{{Skins}, {Deviation, FinishedRa}} {
			var sizes []point
			for _, v := range o.Views {
				e := s.extent[v].Size()
				sizes = append(sizes, point{e.X, e.Y})
			}
			p := arrange(image.Rect(margin, headHeight, o.Width-margin, o.Height-footHeight), sizes, len(o.Layers))
			n := 0
			for _, row := range p.cells {
				n += len(row)
			}
			if n != len(o.Views)*len(o.Layers) || !(p.pxPerMM > 0) {
				t.Errorf("%v of %v: %d pictures at %v px/mm", o.Layers, o.Views, n, p.pxPerMM)
			}
		}
	}
	for _, o := range []Options{
		{Width: minWidth, Height: minHeight, Views: []View{Below}, Layers: []Layer{Allowance}},
		{Width: minWidth, Height: minHeight, Views: []View{Above, Front, Side}, Layers: []Layer{Deviation, FinishedRa}},
	} {
		if _, err := s.Sheet(ctx, o); err != nil {
			t.Errorf("%+v: %v", o, err)
		}
	}
	for _, o := range []Options{
		{Views: []View{9}}, {Layers: []Layer{-1}}, {Layers: []Layer{Skins, Allowance, Deviation}}, {Views: []View{}},
	} {
		if _, err := s.Sheet(ctx, o); !errors.Is(err, ErrInput) {
			t.Errorf("%+v: error = %v, want ErrInput", o, err)
		}
	}
}

func TestSlugs(t *testing.T) {
	for _, v := range Views {
		if got, err := ParseView(v.Slug()); err != nil || got != v {
			t.Errorf("ParseView(%q) = %v, %v", v.Slug(), got, err)
		}
	}
	for l := range numLayers {
		if got, err := ParseLayer(l.Slug()); err != nil || got != l {
			t.Errorf("ParseLayer(%q) = %v, %v", l.Slug(), got, err)
		}
	}
	if _, err := ParseView("top"); err == nil {
		t.Error("there is no view top")
	}
	if _, err := ParseLayer(""); err == nil {
		t.Error("there is no layer without a name")
	}
}

func TestDeviationScale(t *testing.T) {
	in := small()
	for f := range in.Deviation {
		in.Deviation[f] = 0.004 * float64(1-2*(f%2))
	}
	s := stage(t, in, 0)
	sc := s.Scale(Deviation)
	if sc.Lo != -sc.Hi || sc.Hi < 4 || sc.Hi > 5 {
		t.Errorf("scale from %v to %v for deviations of 4 um", sc.Lo, sc.Hi)
	}
	if got, want := sc.At(0), render.PuOr(0.5); got != want {
		t.Errorf("zero is %v, want the middle %v", got, want)
	}
	// What is not measured is grey, in every direction out of the range of the map.
	paint := mapPaint([]float64{math.NaN()}, 1000, sc)
	if got := paint(render.Spot{U: 1}); got != render.Hex(noneColour) {
		t.Errorf("an unmeasured place is %v", got)
	}
	// One outlier of less than a hundredth of the area does not widen the scale.
	m := solid.Icosphere(10, 3)
	in = example("ball", m, r3.Vector{Z: 1}, [4]float64{80, 80, 80, 80})
	for f := range in.Deviation {
		in.Deviation[f] = 0.004
	}
	in.Deviation[7] = -0.4
	sc = stage(t, in, 0).Scale(Deviation)
	if sc.Hi > 5 || sc.At(-400) != render.Hex(underColour) {
		t.Errorf("an outlier of 400 um makes the scale reach %v um and is %v", sc.Hi, sc.At(-400))
	}
}

// Layers of one part and view, which share their drawing, come out as each does
// alone; so does the picture of the skins that is drawn without a stage.
func TestLayersTogetherAndAlone(t *testing.T) {
	in := small()
	s := stage(t, in, 0)
	layers := []Layer{Skins, FinishedRa, Allowance, Deviation}
	together, err := s.Labelled(ctx, Below, layers, 300, 260)
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range layers {
		alone, err := s.Labelled(ctx, Below, []Layer{l}, 300, 260)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(alone[0].Image.Pix, together[i].Image.Pix) {
			t.Errorf("%s differs when other layers are drawn with it", l.Slug())
		}
	}
	want, err := s.Picture(ctx, Above, Skins, 240, 180, 0)
	if err != nil {
		t.Fatal(err)
	}
	got, err := SkinsPicture(ctx, in, Above, 240, 180, 1)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want.Image.Pix, got.Image.Pix) {
		t.Error("the skins differ with and without a stage")
	}
}
