package ply

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"

	"skinstock/mesh"
)

// Scalar is a value at every vertex.
type Scalar struct {
	Name   string // letters, digits and '_', with the unit, such as "allowance_um"
	Values []float64
}

// Write writes a binary little-endian PLY file: vertices in single precision,
// the scalars as float properties of the vertices, and the facets. Comments
// are lines of the header. Numbers that are not finite are refused.
func Write(w io.Writer, m *mesh.Mesh, scalars []Scalar, comments ...string) error {
	b := []byte("ply\nformat binary_little_endian 1.0\n")
	for _, c := range comments {
		b = append(b, "comment "+strings.Map(printable, c)+"\n"...)
	}
	b = fmt.Appendf(b, "element vertex %d\nproperty float x\nproperty float y\nproperty float z\n", len(m.Vertices))
	for _, s := range scalars {
		if len(s.Values) != len(m.Vertices) {
			return fmt.Errorf("scalar %q: %d values for %d vertices", s.Name, len(s.Values), len(m.Vertices))
		}
		if s.Name == "" || strings.Map(name, s.Name) != s.Name {
			return fmt.Errorf("scalar %q: the name is not made of letters, digits and '_'", s.Name)
		}
		b = append(b, "property float "+s.Name+"\n"...)
	}
	b = fmt.Appendf(b, "element face %d\nproperty list uchar int vertex_indices\nend_header\n", len(m.Facets))

	const flushAt = 64 << 10
	for i, v := range m.Vertices {
		for _, x := range [3]float64{v.X, v.Y, v.Z} {
			b = appendFloat(b, x)
			if !finite(x) {
				return fmt.Errorf("vertex %d: %v is not a finite number in single precision", i, x)
			}
		}
		for _, s := range scalars {
			b = appendFloat(b, s.Values[i])
			if !finite(s.Values[i]) {
				return fmt.Errorf("vertex %d: %s is %v, not a finite number in single precision", i, s.Name, s.Values[i])
			}
		}
		if len(b) >= flushAt {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	for _, f := range m.Facets {
		b = append(b, 3)
		for _, v := range f {
			b = binary.LittleEndian.AppendUint32(b, uint32(v))
		}
		if len(b) >= flushAt {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err := w.Write(b)
	return err
}

func appendFloat(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
}

func finite(x float64) bool { f := float32(x); return f-f == 0 }

// printable keeps a comment on its line.
func printable(r rune) rune {
	if r < ' ' || r == 0x7F {
		return ' '
	}
	return r
}

// name drops what may not stand in a property's name.
func name(r rune) rune {
	if r == '_' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
		return r
	}
	return -1
}
