package load

import (
	"bytes"
	"io"
	"testing"

	"skinstock/mesh/file"
	"skinstock/mesh/file/filetest"
	"skinstock/mesh/ply"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// The format is found by the content.
func BenchmarkRead(b *testing.B) {
	m := solid.Icosphere(50, 6)
	read := func(r io.Reader, size int64) (*file.Part, error) { return Read(r, size, Options{}) }
	for _, form := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"stl-binary", func(w io.Writer) error { return stl.WriteBinary(w, m, "ball") }},
		{"stl-ascii", func(w io.Writer) error { return stl.WriteASCII(w, m, "ball") }},
		{"ply", func(w io.Writer) error { return ply.Write(w, m, nil) }},
	} {
		b.Run(form.name, func(b *testing.B) {
			var data bytes.Buffer
			if err := form.write(&data); err != nil {
				b.Fatal(err)
			}
			filetest.Measures(b, read, data.Bytes(), len(m.Facets))
		})
	}
}
