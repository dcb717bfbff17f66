package mesh

import (
	"math"
	"testing"
)

// BenchmarkWeld welds a grid of two triangles a cell, a million in all.
func BenchmarkWeld(b *testing.B) {
	const n = 708
	z := func(i, j int) [3]float32 {
		return [3]float32{float32(i) * 0.1, float32(j) * 0.1, float32(math.Sin(float64(i*j) * 1e-3))}
	}
	var corners [][3][3]float32
	for i := range n {
		for j := range n {
			corners = append(corners, [3][3]float32{z(i, j), z(i+1, j), z(i+1, j+1)}, [3][3]float32{z(i, j), z(i+1, j+1), z(i, j+1)})
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		weldExact(corners)
	}
}
