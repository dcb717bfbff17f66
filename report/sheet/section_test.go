package sheet

import (
	"encoding/xml"
	"errors"
	"image"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// unequalBox is a box of 30 x 20 x 10 mm grown by 60 um at the sides, 90 um on
// top and 140 um below.
func unequalBox() Input {
	in := small()
	in.Grown = solid.Box(r3.Vector{X: -0.06, Y: -0.06, Z: -0.14}, r3.Vector{X: 30.06, Y: 20.06, Z: 10.09})
	in.Allowance = make(mesh.CornerField, len(in.Nominal.Facets))
	for f := range in.Allowance {
		a := 0.06
		switch n := in.Nominal.FacetNormal(f); {
		case n.Z > 0.5:
			a = 0.09
		case n.Z < -0.5:
			a = 0.14
		}
		in.Allowance[f] = [3]float64{a, a, a}
	}
	return in
}

func TestSectionMeasuresTheStock(t *testing.T) {
	s := stage(t, unequalBox(), 0)
	for _, tt := range []struct {
		name string
		cut  Cut
		want float64 // um
	}{
		{"thickest", s.AutoCuts()[0], 140},
		{"top", Cut{At: r3.Vector{X: 15, Y: 10, Z: 10}, Focus: true}, 90},
		{"side", Cut{At: r3.Vector{X: 30, Y: 10, Z: 5}, Focus: true}, 60},
		{"plane alone", Cut{At: r3.Vector{X: 12.5}, Normal: r3.Vector{X: 1}}, 140},
	} {
		normal := tt.cut.Normal
		if normal == (r3.Vector{}) {
			normal = s.telling(tt.cut.At)
		}
		sec := &section{stage: s, cut: tt.cut, plane: newPlane(tt.cut.At, normal, r3.Vector{Z: 1})}
		sec.nominal, sec.grown = cut(s.in.Nominal, sec.plane), cut(s.in.Grown, sec.plane)
		sec.pick()
		if got := sec.gap * 1000; !sec.found || math.Abs(got-tt.want) > 1e-6 {
			t.Errorf("%s: stock %.6f um, want %v", tt.name, got, tt.want)
		}
		d, err := s.Section(ctx, tt.cut)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(d.Title, "stock there") {
			t.Errorf("%s: title %q does not tell the stock", tt.name, d.Title)
		}
	}
}

func TestThreeCutsWhateverIsKnown(t *testing.T) {
	in := unequalBox()
	for _, spots := range [][]Spot{nil, {{"thinnest wall", r3.Vector{X: 1}}}, {{Title: "a"}, {Title: "b"}, {Title: "c"}}} {
		in.Spots = spots
		cuts := stage(t, in, 0).AutoCuts()
		if len(cuts) != 3 {
			t.Errorf("%d cuts with %d spots, want 3", len(cuts), len(spots))
		}
		for i, c := range cuts {
			for _, o := range cuts[:i] {
				if c == o {
					t.Errorf("cut %+v twice", c)
				}
			}
		}
	}
}

func TestSectionBesideThePartIsAnError(t *testing.T) {
	s := stage(t, unequalBox(), 0)
	if _, err := s.Section(ctx, Cut{At: r3.Vector{X: 99}, Normal: r3.Vector{X: 1}}); !errors.Is(err, ErrInput) {
		t.Errorf("error = %v, want ErrInput", err)
	}
}

func TestSectionSVGIsWellFormedAndSafe(t *testing.T) {
	s := stage(t, unequalBox(), 0)
	d, err := s.Section(ctx, Cut{Title: `<script>"&'</script>` + "\x00\u202e", At: r3.Vector{X: 3}, Normal: r3.Vector{X: 1}})
	if err != nil {
		t.Fatal(err)
	}
	svg := d.SVG("a")
	dec := xml.NewDecoder(strings.NewReader(svg))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "script" {
			t.Error("a title became markup")
		}
	}
	if _, err := d.Picture(); err != nil {
		t.Error(err)
	}
}

func TestParseCut(t *testing.T) {
	for in, want := range map[string]r3.Vector{
		"x=12.5": {X: 12.5}, "Z = -3": {Z: -3}, "y=0": {},
	} {
		c, err := ParseCut(in)
		if err != nil || c.At != want {
			t.Errorf("ParseCut(%q) = %v, %v; want the plane at %v", in, c, err, want)
		}
	}
	for _, in := range []string{"", "x", "x=", "w=3", "xy=3", "x=NaN", "x=Inf", "=3", "x=3mm"} {
		if _, err := ParseCut(in); err == nil {
			t.Errorf("ParseCut(%q) gives no error", in)
		}
	}
}

func TestClipPolygon(t *testing.T) {
	sq := []point{{-10, -10}, {30, -10}, {30, 30}, {-10, 30}}
	area := func(p []point) float64 {
		a := 0.0
		for i, q := range p {
			o := p[(i+1)%len(p)]
			a += q.x*o.y - q.y*o.x
		}
		return a / 2
	}
	r := image.Rect(0, 0, 20, 20)
	if got := area(clipPolygon(sq, r)); got != 400 {
		t.Errorf("square around the frame: area %v, want 400", got)
	}
	if got := area(clipPolygon([]point{{10, 10}, {30, 10}, {30, 30}, {10, 30}}, r)); got != 100 {
		t.Errorf("square over a corner: area %v, want 100", got)
	}
	if got := clipPolygon([]point{{40, 40}, {50, 40}, {50, 50}}, r); len(got) != 0 {
		t.Errorf("triangle outside: %v", got)
	}
}

// A place whose plane misses the part makes no section.
func TestAutomaticSectionsMeetThePart(t *testing.T) {
	in := unequalBox()
	in.Spots = []Spot{{"far away", r3.Vector{X: 90, Y: 80, Z: 70}}}
	for _, c := range stage(t, in, 0).AutoCuts() {
		if c.Title == "far away" {
			t.Error("a section far from the part")
		}
	}
}
