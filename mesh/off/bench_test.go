package off

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
	fmt.Fprintf(&text, "OFF\n%d %d 0\n", len(m.Vertices), len(m.Facets))
	for _, v := range m.Vertices {
		fmt.Fprintf(&text, "%.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, t := range m.Facets {
		fmt.Fprintf(&text, "3 %d %d %d\n", t[0], t[1], t[2])
	}
	filetest.Measures(b, read, text.Bytes(), len(m.Facets))
}
