package threemf

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// sheet returns a wavy sheet of 2*n*n facets.
func sheet(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			x, y := float64(i)*0.37, float64(j)*0.41
			m.Vertices = append(m.Vertices, r3.Vector{X: x, Y: y, Z: math.Sin(x) * math.Cos(y)})
		}
	}
	at := func(i, j int) int32 { return int32(i*(n+1) + j) }
	for i := range n {
		for j := range n {
			m.Facets = append(m.Facets, [3]int32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]int32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}

func BenchmarkRead(b *testing.B) {
	for _, n := range []int{224, 708} {
		m := sheet(n)
		var buf bytes.Buffer
		if err := Write(&buf, m, WriteOptions{}); err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("facets=%d", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if p, err := read(buf.Bytes()); err != nil || len(p.Soup.Corners) != len(m.Facets) {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{224, 708} {
		m := sheet(n)
		b.Run(fmt.Sprintf("facets=%d", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := Write(io.Discard, m, WriteOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
