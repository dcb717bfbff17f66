package html

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"skinstock/mesh/solid"
	"skinstock/report/sheet"
)

func TestPageIsSelfContained(t *testing.T) {
	page := string(write(t, fixture(t)))
	for _, bad := range []string{"http://", "https://", "//cdn", "<link", "@import", "src=\"file"} {
		if i := strings.Index(strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, ""), bad); i >= 0 {
			t.Errorf("page holds %q", bad)
		}
	}
	if strings.Contains(page, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
}

func TestPageSameBytes(t *testing.T) {
	var pages [2][]byte
	for i := range pages {
		p, err := newFixture(solid.Icosphere(10, 3))
		if err != nil {
			t.Fatal(err)
		}
		pages[i] = write(t, p)
	}
	if !bytes.Equal(pages[0], pages[1]) {
		t.Error("two runs write different pages")
	}
}

func TestEmptyPage(t *testing.T) {
	page := string(write(t, &Page{Part: "p"}))
	if !strings.Contains(page, "<h1 dir=\"auto\">p</h1>") || !strings.Contains(page, "None.") {
		t.Error("a page without content lacks its heading or its findings")
	}
}

func TestVerdictAndFiguresComeFirst(t *testing.T) {
	page := string(write(t, fixture(t)))
	last := 0
	for _, id := range []string{`id="h-verdict"`, `class="figures"`, `id="h-views"`, `id="turn"`, `id="h-sections"`, `id="h-maps"`, `id="h-charts"`, `id="findings"`, `id="h-table-0"`, `id="h-cautions"`, `id="h-files"`} {
		i := strings.Index(page, id)
		if i < last {
			t.Errorf("%s at %d, before what should precede it", id, i)
		}
		last = i
	}
}

func TestShortCells(t *testing.T) {
	for text, want := range map[string]bool{"": true, "assumed": true, "40 um x ln((12 - 0.5)/(1.6 - 0.5))": true, strings.Repeat("x", 21): false, "a " + strings.Repeat("é", 20): true} {
		if short(text) != want {
			t.Errorf("short(%q) = %v, want %v", text, !want, want)
		}
	}
}

func TestCleanText(t *testing.T) {
	if got := clean("a\u202eb\x00c\nd<e>"); got != "abc d<e>" {
		t.Errorf("clean = %q", got)
	}
	if got := clean(strings.Repeat("x", 99999)); len(got) != maxText+len("…") {
		t.Errorf("a long text keeps %d bytes", len(got))
	}
}

// unpacked is the first mesh of a turntable as the script reads it.
func unpacked(t *testing.T, tt *Turntable) (meta turnMeta, pos, move [][3]float64, facets [][3]int, skins []byte) {
	t.Helper()
	if err := json.Unmarshal([]byte(tt.Meta), &meta); err != nil {
		t.Fatal(err)
	}
	data, err := base64.URLEncoding.DecodeString(tt.Data)
	if err != nil {
		t.Fatal(err)
	}
	m := meta.Meshes[0]
	u16 := func() uint16 {
		v := binary.LittleEndian.Uint16(data)
		data = data[2:]
		return v
	}
	for range m.Vertices {
		var p [3]float64
		for k := range p {
			p[k] = m.Origin[k] + m.Step*float64(u16())
		}
		pos = append(pos, p)
	}
	for range m.Vertices {
		var p [3]float64
		for k := range p {
			p[k] = meta.MaxGrow * float64(int16(u16())) / 32767
		}
		move = append(move, p)
	}
	for range m.Facets {
		facets = append(facets, [3]int{int(u16()), int(u16()), int(u16())})
	}
	skins = data[:m.Facets]
	if want := 4 * m.Facets; len(data) != want && meta.Shared {
		t.Errorf("%d bytes left for skins and values, want %d", len(data), want)
	}
	return meta, pos, move, facets, skins
}

func TestTurntableKeepsASmallMesh(t *testing.T) {
	m := solid.Icosphere(10, 3)
	in := input(m)
	s, err := sheet.NewStage(context.Background(), in, 0)
	if err != nil {
		t.Fatal(err)
	}
	meta, pos, move, facets, skins := unpacked(t, newTurntable(s, turnFacets))
	if len(facets) != len(m.Facets) || len(pos) != len(m.Vertices) || !meta.Shared {
		t.Fatalf("%d facets and %d vertices of %d and %d", len(facets), len(pos), len(m.Facets), len(m.Vertices))
	}
	for i, v := range m.Vertices {
		// The build direction is z, so right, back and up are x, y and z; half a
		// step of 20 mm in 65535.
		for k, x := range [3]float64{v.X, v.Y, v.Z} {
			if math.Abs(pos[i][k]-x) > meta.Meshes[0].Step {
				t.Fatalf("vertex %d axis %d at %v, want %v", i, k, pos[i][k], x)
			}
		}
		g := in.Grown.Vertices[i].Sub(v)
		for k, x := range [3]float64{g.X, g.Y, g.Z} {
			if math.Abs(move[i][k]-x) > meta.MaxGrow/32767 {
				t.Fatalf("vertex %d axis %d moves %v, want %v", i, k, move[i][k], x)
			}
		}
	}
	for f := range skins {
		if skins[f] != byte(in.Skins[f]) {
			t.Fatalf("facet %d has skin %d, want %d", f, skins[f], in.Skins[f])
		}
	}
}

func TestTurntableSimplifiesWithinBounds(t *testing.T) {
	m := solid.Icosphere(10, 6) // 82k facets
	s, err := sheet.NewStage(context.Background(), input(m), 0)
	if err != nil {
		t.Fatal(err)
	}
	const most = 6000
	_, pos, _, facets, _ := unpacked(t, newTurntable(s, most))
	if len(facets) > most || len(facets) < most/3 {
		t.Errorf("%d facets, want up to %d and not far fewer", len(facets), most)
	}
	for _, p := range pos {
		// A cell's mean lies inside the ball by the sagitta of a cell: with some
		// 30 cells along 20 mm, 0.1 mm.
		if r := math.Sqrt(p[0]*p[0] + p[1]*p[1] + p[2]*p[2]); r > 10.01 || r < 9.8 {
			t.Errorf("vertex at radius %v", r)
		}
	}
}

func TestTurntableOfUnlikeMeshes(t *testing.T) {
	in := input(solid.Icosphere(10, 3))
	other := input(solid.Icosphere(10.1, 4))
	in.Grown, in.NominalOf = other.Nominal, make([]int32, len(other.Nominal.Facets))
	s, err := sheet.NewStage(context.Background(), in, 0)
	if err != nil {
		t.Fatal(err)
	}
	meta, _, _, _, _ := unpacked(t, newTurntable(s, turnFacets))
	if meta.Shared || len(meta.Meshes) != 2 || meta.Meshes[1].Facets != len(in.Grown.Facets) {
		t.Errorf("meta %+v: want two meshes", meta.Meshes)
	}
}
