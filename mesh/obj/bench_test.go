package obj

import (
	"bytes"
	"fmt"
	"testing"

	"skinstock/mesh/file/filetest"
	"skinstock/mesh/solid"
)

func BenchmarkRead(b *testing.B) {
	m := solid.Icosphere(50, 6)
	var text bytes.Buffer
	for _, v := range m.Vertices {
		fmt.Fprintf(&text, "v %.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, t := range m.Facets {
		fmt.Fprintf(&text, "f %d %d %d\n", t[0]+1, t[1]+1, t[2]+1)
	}
	filetest.Measures(b, read, text.Bytes(), len(m.Facets))
}
