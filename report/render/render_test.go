package render

import (
	"bytes"
	"context"
	"errors"
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

var (
	up    = r3.Vector{Z: 1}
	front = r3.Vector{Y: -1}
)

func draw(t testing.TB, m *mesh.Mesh, v View, opt Options) *Frame {
	t.Helper()
	mod, err := NewModel(context.Background(), m, nil, ModelOptions{Workers: opt.Workers})
	if err != nil {
		t.Fatal(err)
	}
	f, err := Draw(context.Background(), mod, v, opt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestSphereSilhouetteArea(t *testing.T) {
	const r = 10.0
	m := solid.Icosphere(r, 5)
	v := LookFrom(r3.Vector{X: 1, Y: -0.7, Z: 0.4}, up)
	v.PxPerMM = 9
	f := draw(t, m, v, Options{Width: 200, Height: 200})
	got := f.Coverage() * 200 * 200 / (9 * 9)
	// The chords of a level-5 icosphere lie up to 0.03 % inside the sphere, so
	// 0.06 % in area; sampling a border of 565 px with 16 samples a pixel adds
	// some 0.05 %. A tenth more is the bound.
	if want := math.Pi * r * r; math.Abs(got/want-1) > 0.0015 {
		t.Errorf("silhouette = %.3f mm2, want %.3f", got, want)
	}
}

func TestDepthOfPlane(t *testing.T) {
	// The upper side of a box seen at 30 degrees to the vertical: over the
	// picture the depth is that of the plane z = 3.
	m := solid.Box(r3.Vector{X: -50, Y: -50, Z: 0}, r3.Vector{X: 50, Y: 50, Z: 3})
	toward := r3.Vector{Y: -math.Sin(math.Pi / 6), Z: math.Cos(math.Pi / 6)}
	v := LookFrom(toward, up)
	v.PxPerMM = 4
	f := draw(t, m, v, Options{Width: 101, Height: 81, Samples: 3})
	for y := 0; y < 81; y += 8 {
		for x := 0; x < 101; x += 10 {
			// With three samples a side the middle one lies in the pixel's middle.
			sy := -(float64(y) + 0.5 - 40.5) / 4
			// p = sx*right + sy*up + s*toward with p.z = 3.
			s := (3 - sy*v.Up.Z) / v.Toward.Z
			// Positions are rounded to 1/768 px, depths to single precision.
			if got := f.Depth(x, y); math.Abs(got+s) > 1e-3 {
				t.Errorf("depth at %d, %d = %.5f, want %.5f", x, y, got, -s)
			}
		}
	}
}

func TestHiddenSurface(t *testing.T) {
	near := solid.Box(r3.Vector{X: -2, Y: -6, Z: -2}, r3.Vector{X: 2, Y: -5, Z: 2})
	far := solid.Box(r3.Vector{X: -5, Y: 0, Z: -5}, r3.Vector{X: 5, Y: 1, Z: 5})
	n := len(near.Facets)
	v := LookFrom(front, up)
	v.PxPerMM = 5
	for _, m := range []*mesh.Mesh{solid.Merge(near, far), solid.Merge(far, near)} {
		isNear := func(f int) bool { return m.Corner(f, 0).Y <= -5 }
		f := draw(t, m, v, Options{Width: 60, Height: 60})
		var nearPx, farPx int
		for y := range 60 {
			for x := range 60 {
				switch id := f.Facet(x, y); {
				case id < 0:
				case isNear(id):
					nearPx++
				default:
					farPx++
				}
			}
		}
		if nearPx != 20*20 || farPx != 50*50-20*20 {
			t.Errorf("near box on %d pixels, far box on %d; want 400 and 2100 (%d facets)", nearPx, farPx, n)
		}
	}
}

func TestColourAtKnownValue(t *testing.T) {
	m := solid.Box(r3.Vector{X: -5, Y: -5, Z: -5}, r3.Vector{X: 5, Y: 5, Z: 5})
	s := NewScale(Viridis, 0, 200)
	for _, um := range []float64{0, 50, 100, 137, 200} {
		v := LookFrom(front, up)
		f := draw(t, m, v.Fit(m.Vertices, 20, 20, 1), Options{
			Width: 20, Height: 20, Light: FlatLight,
			Paint: func(Spot) RGB { return s.At(um) },
		})
		if got, want := f.Image.RGBAAt(10, 10), Viridis(um/200).SRGB(); got != want {
			t.Errorf("colour at %v um = %v, want %v", um, got, want)
		}
	}
}

func TestCornerValuesAreInterpolated(t *testing.T) {
	// Red grows with x over the front of a box by the paint's own barycentric
	// coordinates: in the middle of the front, half the light.
	m := solid.Box(r3.Vector{X: 0, Y: 0, Z: 0}, r3.Vector{X: 10, Y: 10, Z: 10})
	v := LookFrom(front, up)
	v = v.Fit(m.Vertices, 100, 100, 0)
	f := draw(t, m, v, Options{Width: 100, Height: 100, Light: FlatLight, Paint: func(s Spot) RGB {
		a, b, c := m.Triangle(s.Facet)
		return RGB{R: float32((s.U*a.X + s.V*b.X + s.W*c.X) / 10)}
	}})
	for _, x := range []int{5, 25, 50, 75, 95} {
		want := RGB{R: (float32(x) + 0.5) / 100}.SRGB().R
		// One code for rounding of positions.
		if got := f.Image.RGBAAt(x, 40).R; math.Abs(float64(got)-float64(want)) > 1 {
			t.Errorf("red at column %d = %d, want %d", x, got, want)
		}
	}
}

func TestEdgePixelsAveragedInLinearLight(t *testing.T) {
	// A white square that covers half of each border pixel over black: half
	// the light is code 188, not 128.
	m := solid.Box(r3.Vector{X: -5.5, Y: -1, Z: -5}, r3.Vector{X: 5.5, Y: 1, Z: 5})
	v := LookFrom(front, up)
	f := draw(t, m, v, Options{Width: 20, Height: 20, Light: FlatLight, Paint: func(Spot) RGB { return Hex(0xFFFFFF) }})
	if got := f.Image.RGBAAt(4, 10).R; got != 188 {
		t.Errorf("half covered pixel = %d, want 188", got)
	}
	if got := f.Image.RGBAAt(5, 10).R; got != 255 {
		t.Errorf("covered pixel = %d, want 255", got)
	}
	if got := f.Image.RGBAAt(3, 10).R; got != 0 {
		t.Errorf("free pixel = %d, want 0", got)
	}
}

func TestCreaseOnTheVisibleEdgeOnly(t *testing.T) {
	m := solid.Box(r3.Vector{X: -5, Y: -5, Z: -5}, r3.Vector{X: 5, Y: 5, Z: 5})
	v := LookFrom(r3.Vector{X: 1, Y: -1}, up) // two faces, the edge x=5, y=-5 in the middle
	v.PxPerMM = 5
	f := draw(t, m, v, Options{
		Width: 101, Height: 101, Light: FlatLight, CreasePx: 2,
		Paint: func(Spot) RGB { return Hex(0xFFFFFF) },
	})
	if got := f.Image.RGBAAt(50, 50).R; got > 60 {
		t.Errorf("visible edge is drawn with code %d, want below 60", got)
	}
	if got := f.Image.RGBAAt(30, 50).R; got != 255 {
		t.Errorf("face is drawn with code %d, want 255", got)
	}
	// The hidden edge x=-5, y=5 would lie in the same column: turn a little and it must not show.
	v = LookFrom(r3.Vector{X: 1, Y: -0.6}, up)
	v.PxPerMM = 5
	f = draw(t, m, v, Options{
		Width: 101, Height: 101, Light: FlatLight, CreasePx: 2,
		Paint: func(Spot) RGB { return Hex(0xFFFFFF) },
	})
	x, _, _ := v.Project(r3.Vector{X: -5, Y: 5}, 101, 101)
	if got := f.Image.RGBAAt(int(x), 50).R; got != 255 {
		t.Errorf("hidden edge shows with code %d", got)
	}
}

func TestSamePixelsWhateverTheWorkers(t *testing.T) {
	m := solid.GyroidCube(1.5)
	v := LookFrom(r3.Vector{X: 1, Y: -1, Z: 0.8}, up)
	v = v.Fit(m.Vertices, 240, 200, 8)
	opt := Options{Width: 240, Height: 200, CreasePx: 1, OutlinePx: 1.5, Background: Hex(0xFFFFFF), TwoSided: true}
	opt.Workers = 1
	want := draw(t, m, v, opt)
	for _, n := range []int{2, 7} {
		opt.Workers = n
		if got := draw(t, m, v, opt); !bytes.Equal(got.Image.Pix, want.Image.Pix) {
			t.Errorf("%d workers draw other pixels than one", n)
		}
	}
}

func TestTiesGoToTheLowerFacet(t *testing.T) {
	b := solid.Box(r3.Vector{X: -5, Y: -5, Z: -5}, r3.Vector{X: 5, Y: 5, Z: 5})
	m := solid.Merge(b, b)
	v := LookFrom(front, up)
	f := draw(t, m, v.Fit(m.Vertices, 40, 40, 4), Options{Width: 40, Height: 40})
	for y := range 40 {
		for x := range 40 {
			if id := f.Facet(x, y); id >= len(b.Facets) {
				t.Fatalf("pixel %d, %d shows facet %d of the second of two equal boxes", x, y, id)
			}
		}
	}
}

func TestNoGapsBetweenFacets(t *testing.T) {
	// Every sample inside the outline of a closed body is covered, however
	// small its facets are.
	m := solid.Icosphere(10, 6)
	v := LookFrom(r3.Vector{X: 0.3, Y: -0.9, Z: 0.2}, up)
	f := draw(t, m, v.Fit(m.Vertices, 64, 64, 2), Options{Width: 64, Height: 64, Samples: 1})
	for y := range 64 {
		first, last := -1, -1
		for x := range 64 {
			if f.Facet(x, y) >= 0 {
				if first < 0 {
					first = x
				}
				last = x
			}
		}
		for x := max(first, 0); x <= last; x++ {
			if f.Facet(x, y) < 0 {
				t.Errorf("hole at %d, %d", x, y)
			}
		}
	}
}

func TestZoomIsRefusedNotWrapped(t *testing.T) {
	m := solid.Box(r3.Vector{X: -5, Y: -5, Z: -5}, r3.Vector{X: 5, Y: 5, Z: 5})
	mod, err := NewModel(context.Background(), m, nil, ModelOptions{})
	if err != nil {
		t.Fatal(err)
	}
	v := LookFrom(front, up)
	v.PxPerMM = 1e9
	if _, err := Draw(context.Background(), mod, v, Options{Width: 50, Height: 50}); !errors.Is(err, ErrZoom) {
		t.Errorf("error = %v, want ErrZoom", err)
	}
	if _, err := Draw(context.Background(), mod, v, Options{Width: 0, Height: 50}); err == nil {
		t.Error("a picture without width is drawn")
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := NewModel(ctx, solid.Icosphere(1, 3), nil, ModelOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("error = %v, want context.Canceled", err)
	}
}

func TestFeatureEdges(t *testing.T) {
	count := func(m *mesh.Mesh) int {
		mod, err := NewModel(context.Background(), m, nil, ModelOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return len(mod.Edges)
	}
	if got := count(solid.Box(r3.Vector{}, r3.Vector{X: 3, Y: 2, Z: 1})); got != 12 {
		t.Errorf("a box has %d feature edges, want 12", got)
	}
	if got := count(solid.Icosphere(10, 4)); got != 0 {
		t.Errorf("a ball has %d feature edges, want none", got)
	}
	if got := count(solid.Cylinder(5, 20, 64)); got != 128 {
		t.Errorf("a cylinder of 64 sides has %d feature edges, want its two rims of 64", got)
	}
	// A ball out of voxels is full of slivers, and has no feature all the same.
	ball := solid.Implicit(func(p r3.Vector) float64 { return p.Norm() - 10 },
		r3.Vector{X: -11, Y: -11, Z: -11}, r3.Vector{X: 11, Y: 11, Z: 11}, 0.7)
	if got := count(ball); got != 0 {
		t.Errorf("a voxel-born ball has %d feature edges, want none", got)
	}
}

func TestShortGroupsOfEdges(t *testing.T) {
	// A ring of four edges of 1 mm, a straight run of four and one of twenty.
	m := &mesh.Mesh{}
	add := func(x, y float64) int32 {
		m.Vertices = append(m.Vertices, r3.Vector{X: x, Y: y})
		return int32(len(m.Vertices) - 1)
	}
	var edges [][2]int32
	a, b, c, d := add(0, 0), add(1, 0), add(1, 1), add(0, 1)
	edges = append(edges, [2]int32{a, b}, [2]int32{b, c}, [2]int32{c, d}, [2]int32{d, a})
	run := func(y float64, n int) {
		p := add(0, y)
		for i := range n {
			q := add(float64(i+1), y)
			edges = append(edges, [2]int32{p, q})
			p = q
		}
	}
	run(5, 4)
	run(10, 20)
	if got := len(longGroups(m, edges, 10)); got != 4+20 {
		t.Errorf("%d edges kept, want the ring's 4 and the long run's 20", got)
	}
}
