package sheet

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
	"skinstock/region"
)

var lookDir = flag.String("look", "", "write the pictures of this package's tests into this folder")

var lookCuts = flag.Bool("cuts", false, "with -look, write the sections only")

// lookAt writes a picture when asked to.
func lookAt(t testing.TB, name string, write func(f *os.File) error) {
	t.Helper()
	if *lookDir == "" {
		return
	}
	f, err := os.Create(filepath.Join(*lookDir, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := write(f); err != nil {
		t.Fatal(err)
	}
}

// shared reads a real mesh.
func shared(t testing.TB, name string, unit float64) *mesh.Mesh {
	t.Helper()
	return stltest.Welded(t, meshtest.Shared(t, name), unit)
}

// example returns an input with skins by angle alone and the given allowances
// in um for upskin, vertical, downskin and platform.
func example(name string, m *mesh.Mesh, build r3.Vector, um [4]float64) Input {
	b := build.Normalize()
	skins := make([]region.Skin, len(m.Facets))
	per := make([]float64, len(m.Facets))
	low := 1e300
	for _, v := range m.Vertices {
		low = min(low, v.Dot(b))
	}
	for f := range m.Facets {
		n := m.FacetNormal(f)
		c := n.Dot(b)
		switch {
		case c > 0.5:
			skins[f] = region.Upskin
		case c < -0.999 && m.Corner(f, 0).Dot(b) < low+0.01 && m.Corner(f, 1).Dot(b) < low+0.01:
			skins[f] = region.Platform
		case c < -0.5:
			skins[f] = region.Downskin
		default:
			skins[f] = region.Vertical
		}
		per[f] = um[skins[f]] / 1000
	}
	// Grown here only as far as pictures need: every vertex along its mean normal.
	g := m.Clone()
	sum := make([]r3.Vector, len(m.Vertices))
	amount := make([]float64, len(m.Vertices))
	for f, t := range m.Facets {
		for _, v := range t {
			sum[v] = sum[v].Add(m.AreaNormal(f))
			amount[v] = max(amount[v], per[f])
		}
	}
	for i := range g.Vertices {
		g.Vertices[i] = g.Vertices[i].Add(sum[i].Normalize().Mul(amount[i]))
	}
	field := make(mesh.CornerField, len(m.Facets))
	for f, t := range m.Facets {
		for k, v := range t {
			field[f][k] = amount[v]
		}
	}
	// A deviation and a finish that vary over the part, so that the maps show.
	dev, ra := make([]float64, len(m.Facets)), make([]float64, len(m.Facets))
	lo, hi := m.Bounds()
	for f := range m.Facets {
		p := m.Corner(f, 0).Add(m.Corner(f, 1)).Add(m.Corner(f, 2)).Mul(1. / 3)
		u := (p.X - lo.X) / (hi.X - lo.X)
		v := (p.Z - lo.Z) / (hi.Z - lo.Z)
		dev[f] = 0.012*math.Sin(9*u+4*v) + 0.03*math.Pow(u, 30)
		ra[f] = 0.8 + 0.9*v*float64(skins[f]+1)/4
	}
	return Input{
		Deviation: dev, FinishedRa: ra, Pins: []Pin{
			{Number: 1, At: m.Corner(0, 0), Strong: false},
			{Number: 2, At: m.Corner(len(m.Facets)/2, 0), Strong: true},
			{Number: 3, At: m.Corner(len(m.Facets)-1, 1), Strong: false},
			{Number: 4, At: m.Corner(len(m.Facets)/2, 1), Strong: false},
		},
		Part: name, Recipe: "Ti-6Al-4V, 30 µm layers, immersion bath", Version: "skinstock 0.1.0", Assumed: true,
		Nominal: m, Grown: g, Skins: skins, Allowance: field, BuildDir: build,
	}
}

func TestLook(t *testing.T) {
	if *lookDir == "" {
		t.Skip("pictures are written with -look DIR only")
	}
	z := r3.Vector{Z: 1}
	um := [4]float64{82, 96, 141, 96}
	parts := []Input{
		example("lander bracket", solid.LanderBracket(0.8), z, um),
		example("plate-holes", shared(t, "plate-holes.stl", 1), z, um),
		example("cell-rack", shared(t, "cell-rack.stl", 1), z, um),
		example("hook-organic", shared(t, "hook-organic.stl", 50), z, um),
		example("box", solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: 20, Z: 10}), z, um),
		example("tray", shared(t, "tray-thin-cutouts.stl", 1), z, um),
		example("rod", solid.Cylinder(3, 200, 48), r3.Vector{X: 0.2, Z: 1}, um),
		example("bar lying", solid.Map(solid.Cylinder(3, 200, 48), func(p r3.Vector) r3.Vector { return r3.Vector{X: p.Z, Y: p.X, Z: p.Y} }), z, um),
		example("gyroid", solid.GyroidCube(0.5), z, um),
		example("lattice", shared(t, "voronoi-beam-lattice.stl", 1), z, um),
	}
	for _, in := range parts {
		st, err := NewStage(context.Background(), in, 0)
		if err != nil {
			t.Fatal(err)
		}
		img, err := st.Sheet(context.Background(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range st.AutoCuts() {
			d, err := st.Section(context.Background(), c)
			if err != nil {
				t.Fatal(err)
			}
			lookAt(t, fmt.Sprintf("%s-cut%d.svg", in.Part, i), func(f *os.File) error {
				_, err := f.WriteString(d.SVG("x"))
				return err
			})
			lookAt(t, fmt.Sprintf("%s-cut%d.png", in.Part, i), func(f *os.File) error {
				img, err := d.Picture()
				if err != nil {
					return err
				}
				return WritePNG(f, img)
			})
		}
		if *lookCuts {
			continue
		}
		lookAt(t, in.Part+"-proof.png", func(f *os.File) error {
			img, err := st.Sheet(context.Background(), Options{Layers: []Layer{Deviation, FinishedRa}})
			if err != nil {
				return err
			}
			return WritePNG(f, img)
		})
		lookAt(t, in.Part+".png", func(f *os.File) error { return WritePNG(f, img) })
	}
}
