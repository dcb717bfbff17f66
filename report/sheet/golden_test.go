package sheet

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/golang/geo/r3"
	"gonum.org/v1/plot/cmpimg"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/stl/stltest"
)

var update = flag.Bool("update", false, "write testdata/golden from what is drawn now")

// golden compares a picture with testdata/golden. Small differences of colour
// pass, as does one pixel in a thousand: on another platform the last bit of a
// position can move a sample over an edge.
func golden(t *testing.T, name string, img image.Image) {
	t.Helper()
	var b bytes.Buffer
	if err := WritePNG(&b, img); err != nil {
		t.Fatal(err)
	}
	file := meshtest.Testdata(t, "golden", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; write it with -update and look at it", err)
	}
	if ok, err := cmpimg.EqualApprox("png", b.Bytes(), raw, 0.05); err == nil && ok {
		return
	}
	want, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	if want.Bounds() != img.Bounds() {
		t.Fatalf("%s: picture of %v, want %v", name, img.Bounds(), want.Bounds())
	}
	if n, all := unlike(img, want), img.Bounds().Dx()*img.Bounds().Dy(); n*1000 > all {
		t.Errorf("%s: %d of %d pixels differ; -look DIR writes the difference, -update renews the file", name, n, all)
		lookAt(t, "diff-"+name, func(f *os.File) error {
			d := image.NewRGBA(want.Bounds())
			cmpimg.Diff(d, img, want)
			return WritePNG(f, d)
		})
	}
}

// unlike counts the pixels in which a part differs by more than a twentieth.
func unlike(a, b image.Image) int {
	n := 0
	r := a.Bounds()
	far := func(x, y uint32) bool { return max(x, y)-min(x, y) > 0xFFFF/20 }
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p, q, s, _ := a.At(x, y).RGBA()
			u, v, w, _ := b.At(x, y).RGBA()
			if far(p, u) || far(q, v) || far(s, w) {
				n++
			}
		}
	}
	return n
}

func TestGoldenPictures(t *testing.T) {
	demo := func(t *testing.T) *mesh.Mesh {
		return stltest.Welded(t, meshtest.Testdata(t, "parts", "lander-bracket.stl"), 1)
	}
	for _, tt := range []struct {
		name string
		mesh func(t *testing.T) *mesh.Mesh
	}{
		{"demo", demo},
		{"plate", func(t *testing.T) *mesh.Mesh { return shared(t, "plate-holes.stl", 1) }},
		{"hook", func(t *testing.T) *mesh.Mesh { return shared(t, "hook-organic.stl", 50) }},
		{"shade", func(t *testing.T) *mesh.Mesh { return shared(t, "shade-small-thin.stl", 1) }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := stage(t, example(tt.name, tt.mesh(t), r3.Vector{Z: 1}, [4]float64{82, 96, 141, 96}), 0)
			for _, p := range []struct {
				view  View
				layer Layer
			}{{Above, Skins}, {Below, Allowance}, {Below, Deviation}} {
				qs, err := s.Labelled(ctx, p.view, []Layer{p.layer}, 300, 260)
				if err != nil {
					t.Fatal(err)
				}
				golden(t, tt.name+"-"+p.view.Slug()+"-"+p.layer.Slug()+".png", qs[0].Image)
			}
			d, err := s.Section(ctx, s.AutoCuts()[0])
			if err != nil {
				t.Fatal(err)
			}
			img, err := d.Picture()
			if err != nil {
				t.Fatal(err)
			}
			golden(t, tt.name+"-section.png", img)
		})
	}
}

func TestGoldenNoticesAChange(t *testing.T) {
	s := stage(t, small(), 0)
	qs, err := s.Labelled(ctx, Front, []Layer{Skins, Allowance}, 300, 260)
	if err != nil {
		t.Fatal(err)
	}
	a, b := qs[0], qs[1]
	if n := unlike(a.Image, b.Image); n*1000 <= 300*260 {
		t.Errorf("two layers differ in %d pixels only: the comparison is blind", n)
	}
	if n := unlike(a.Image, a.Image); n != 0 {
		t.Errorf("a picture differs from itself in %d pixels", n)
	}
}
