package screen_test

import (
	"context"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// Parts of about half a million and a million facets: a smooth ring, and the
// worst for every rule, a cube of pores.
func BenchmarkScreen(b *testing.B) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"ring", solid.Torus(30, 8, 500, 500)},
		{"gyroid", solid.GyroidCube(0.365)},
		{"ring1M", solid.Torus(30, 8, 707, 707)},
		{"gyroid1M", solid.GyroidCube(0.26)},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := screen.Screen(context.Background(), c.m, nil, nil, screen.Options{BathUp: r3.Vector{Z: 1}}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(c.m.Facets)), "facets")
		})
	}
}
