package stl

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/file/filetest"
)

// benchmarkSizes runs a benchmark on sheets of about 100 k and 1 M facets.
func benchmarkSizes(b *testing.B, run func(b *testing.B, m *mesh.Mesh)) {
	for _, n := range []int{224, 708} {
		m := filetest.WavySheet(n)
		b.Run(fmt.Sprintf("facets=%d", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			run(b, m)
		})
	}
}

func benchmarkRead(b *testing.B, m *mesh.Mesh, write func(io.Writer) error) {
	var buf bytes.Buffer
	if err := write(&buf); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(buf.Len()))
	for b.Loop() {
		f, err := Read(bytes.NewReader(buf.Bytes()), int64(buf.Len()), Options{})
		if err != nil || len(f.Soup.Corners) != len(m.Facets) {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadBinary(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, m *mesh.Mesh) {
		benchmarkRead(b, m, func(w io.Writer) error { return WriteBinary(w, m, "") })
	})
}

func BenchmarkReadASCII(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, m *mesh.Mesh) {
		benchmarkRead(b, m, func(w io.Writer) error { return WriteASCII(w, m, "") })
	})
}

func BenchmarkWriteBinary(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, m *mesh.Mesh) {
		b.SetBytes(headerSize + recordSize*int64(len(m.Facets)))
		for b.Loop() {
			if err := WriteBinary(io.Discard, m, "sheet"); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkWriteASCII(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, m *mesh.Mesh) {
		for b.Loop() {
			if err := WriteASCII(io.Discard, m, "sheet"); err != nil {
				b.Fatal(err)
			}
		}
	})
}
