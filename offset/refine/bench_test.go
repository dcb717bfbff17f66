package refine_test

import (
	"context"
	"testing"

	"skinstock/mesh/solid"
	"skinstock/offset/refine"
)

// A part of small facets, of which none is long enough to be cut, and one of large ones.
func BenchmarkRun(b *testing.B) {
	for _, c := range []struct {
		name  string
		least float64
	}{{"none long", 2}, {"large", 0.3}} {
		b.Run(c.name, func(b *testing.B) {
			m := solid.SmoothBracket(1.2)
			topo := m.Topology()
			own := make([]float64, len(m.Facets))
			for f := range own {
				if own[f] = 0.15; m.FacetNormal(f).Z < -0.5 {
					own[f] = 0.2
				}
			}
			b.ReportAllocs()
			for b.Loop() {
				r, err := refine.Run(context.Background(), m, topo, refine.Options{Allowance: spreading(own, 0.05), Tolerance: 0.001, Least: c.least, Most: 2 * len(m.Facets)})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(len(r.Mesh.Facets)), "facets")
			}
		})
	}
}
