package threemf

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"skinstock/mesh/file/filetest"
)

func BenchmarkRead(b *testing.B) {
	for _, n := range []int{224, 708} {
		m := filetest.WavySheet(n)
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
		m := filetest.WavySheet(n)
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
