// Package filetest holds what the tests of all part file readers ask alike. It
// is for tests only.
package filetest

import (
	"bytes"
	"errors"
	"io"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"skinstock/mesh/file"
)

// Reader reads a part of size bytes, -1 where the size is not known.
type Reader func(r io.Reader, size int64) (*file.Part, error)

// TetraCorners returns the corners of the right-angled tetrahedron of leg 10
// that the readers' texts describe, in their order of facets.
func TetraCorners() [][3][3]float32 {
	return [][3][3]float32{
		{{0, 0, 0}, {0, 10, 0}, {10, 0, 0}},
		{{0, 0, 0}, {10, 0, 0}, {0, 0, 10}},
		{{0, 0, 0}, {0, 0, 10}, {0, 10, 0}},
		{{10, 0, 0}, {0, 10, 0}, {0, 0, 10}},
	}
}

// ReadsTetra reads a text byte by byte, with and without its size known, and
// wants the tetrahedron. It returns the part, nil after a failure.
func ReadsTetra(t *testing.T, read Reader, name, text string) *file.Part {
	t.Helper()
	var p *file.Part
	for _, size := range []int64{-1, int64(len(text))} {
		var err error
		p, err = read(iotest.OneByteReader(strings.NewReader(text)), size)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return nil
		}
		if !slices.Equal(p.Soup.Corners, TetraCorners()) {
			t.Errorf("%s: %v, want %v", name, p.Soup.Corners, TetraCorners())
		}
	}
	return p
}

// Refuses reads a text and wants an error that wraps the sentinel and names
// the line, 0 where none can be named.
func Refuses(t *testing.T, read Reader, name, text string, sentinel error, line int) {
	t.Helper()
	_, err := read(strings.NewReader(text), -1)
	var e *file.Error
	if !errors.As(err, &e) || !errors.Is(err, sentinel) || e.Line != line {
		t.Errorf("%s: error %v, want %v in line %d", name, err, sentinel, line)
	}
}

// OneLine wants a *file.Error that is one plain line.
func OneLine(t *testing.T, err error) {
	t.Helper()
	var e *file.Error
	if !errors.As(err, &e) || strings.ContainsAny(err.Error(), "\n\r\x00") {
		t.Errorf("error %q is no plain line", err)
	}
}

// Survives reads any bytes and wants facets or a plain error of one line, and
// at most perByte bytes allocated for each byte read, beside one MiB.
func Survives(t *testing.T, read Reader, data []byte, perByte int) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	p, err := read(bytes.NewReader(data), int64(len(data)))
	runtime.ReadMemStats(&after)
	if got, most := after.TotalAlloc-before.TotalAlloc, uint64(1<<20+perByte*len(data)); got > most {
		t.Errorf("%d bytes allocated for %d", got, len(data))
	}
	if err != nil {
		OneLine(t, err)
		return
	}
	if len(p.Soup.Corners) == 0 {
		t.Error("no facets and no error")
	}
}

// Measures reads data again and again.
func Measures(b *testing.B, read Reader, data []byte, facets int) {
	b.Helper()
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		p, err := read(bytes.NewReader(data), int64(len(data)))
		if err != nil || len(p.Soup.Corners) != facets {
			b.Fatalf("%d facets of %d: %v", len(p.Soup.Corners), facets, err)
		}
	}
}
