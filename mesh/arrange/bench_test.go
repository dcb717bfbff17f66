package arrange

import (
	"context"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

func BenchmarkResolve(b *testing.B) {
	for _, p := range []struct {
		name string
		make func() *mesh.Mesh
	}{
		{"bracket 100k, 0.2 mm", func() *mesh.Mesh { return averaged(solid.SmoothBracket(0.77), 0.2) }},
		{"gyroid 100k, 0.2 mm", func() *mesh.Mesh { return averaged(solid.GyroidCube(0.78), 0.2) }},
		{"bracket 1M, 0.05 mm", func() *mesh.Mesh { return averaged(solid.SmoothBracket(0.243), 0.05) }},
		{"gyroid 1M, 0.05 mm", func() *mesh.Mesh { return averaged(solid.GyroidCube(0.247), 0.05) }},
		{"voronoi beams", func() *mesh.Mesh { return stltest.Welded(b, meshtest.Shared(b, "voronoi-beam-lattice.stl"), 1) }},
	} {
		b.Run(p.name, func(b *testing.B) {
			m := p.make()
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				_, rep, err := Resolve(context.Background(), m, Options{Workers: 2})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(m.Facets)), "facets")
				b.ReportMetric(float64(rep.Crossings), "crossings")
			}
		})
	}
}

// Who knows which facets meet pays for these.
func BenchmarkResolveSuspects(b *testing.B) {
	m := averaged(solid.GyroidCube(0.36), 0.05)
	m.RoundToFloat32()
	c, err := bvh.New(m, 2).SelfCrossings(b.Context(), bvh.CrossingOptions{Workers: 2})
	if err != nil {
		b.Fatal(err)
	}
	for _, list := range [][]int32{nil, c.Facets()} {
		name := "all"
		if list != nil {
			name = "suspects"
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Resolve(b.Context(), m, Options{Workers: 2, Suspects: list}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(m.Facets)), "facets")
			b.ReportMetric(float64(c.Total), "crossings")
		})
	}
}
