package sheet

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func BenchmarkSheet(b *testing.B) {
	for name, m := range map[string]*mesh.Mesh{
		"sphere-82k":  solid.Icosphere(20, 6),
		"gyroid-1.1M": solid.GyroidCube(0.25),
	} {
		in := example("sheet", m, r3.Vector{Z: 1}, [4]float64{80, 95, 140, 95})
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s, err := NewStage(ctx, in, 0)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := s.Sheet(ctx, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
