package ply

import (
	"bytes"
	"io"
	"testing"

	"skinstock/mesh/file/filetest"
	"skinstock/mesh/solid"
)

func BenchmarkRead(b *testing.B) {
	m := solid.Icosphere(50, 6)
	var data bytes.Buffer
	if err := Write(&data, m, nil); err != nil {
		b.Fatal(err)
	}
	filetest.Measures(b, read, data.Bytes(), len(m.Facets))
}

func BenchmarkWrite(b *testing.B) {
	m := solid.Icosphere(50, 6)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(io.Discard, m, nil); err != nil {
			b.Fatal(err)
		}
	}
}
