package verify

import (
	"math"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func BenchmarkVerify(b *testing.B) {
	for _, c := range []struct {
		name   string
		nu, nv int
	}{{"100k", 316, 158}, {"500k", 707, 354}} {
		b.Run(c.name, func(b *testing.B) {
			// Grown so that every facet stands off by its allowance and more.
			over := 0.2 / math.Cos(math.Pi/float64(c.nv)) / math.Cos(math.Pi/float64(c.nu))
			n, g := solid.Torus(30, 10, c.nu, c.nv), solid.Torus(30, 10+over, c.nu, c.nv)
			g.RoundToFloat32()
			w := make(mesh.CornerField, len(n.Facets))
			for f := range w {
				w[f] = [3]float64{0.2, 0.2, 0.2}
			}
			for _, oneWay := range []bool{false, true} {
				b.Run(map[bool]string{false: "both", true: "oneway"}[oneWay], func(b *testing.B) {
					b.ReportAllocs()
					for range b.N {
						p, err := Verify(b.Context(), n, g, w, Options{OneWay: oneWay})
						if err != nil {
							b.Fatal(err)
						}
						if !p.Within() {
							b.Fatalf("short by %v", p.All.Shortfall.Max)
						}
					}
				})
			}
		})
	}
}
