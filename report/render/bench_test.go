package render

import (
	"context"
	"fmt"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
)

func BenchmarkModel(b *testing.B) {
	for _, level := range []int{3, 6, 8} { // 1 k, 82 k, 1.3 M facets
		m := solid.Icosphere(20, level)
		topo := m.Topology()
		b.Run(fmt.Sprint(len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := NewModel(context.Background(), m, topo, ModelOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkDraw(b *testing.B) {
	for _, level := range []int{3, 6, 8} {
		m := solid.Icosphere(20, level)
		mod, err := NewModel(context.Background(), m, nil, ModelOptions{})
		if err != nil {
			b.Fatal(err)
		}
		v := LookFrom(r3.Vector{X: 1, Y: -1, Z: 1}, up)
		v = v.Fit(m.Vertices, 390, 470, 14)
		b.Run(fmt.Sprint(len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Draw(context.Background(), mod, v, Options{Width: 390, Height: 470, CreasePx: 1, OutlinePx: 1.6}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
