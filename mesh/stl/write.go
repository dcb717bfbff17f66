package stl

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sync/atomic"

	"skinstock/mesh"
	"skinstock/mesh/internal/scan"
)

// block is how many facets are handed to the writer below at once: 1.6 MB.
const block = 4 * mesh.Chunk

// WriteBinary writes a binary STL file: the vertices rounded to single
// precision, normals computed from those, and the attribute words of the
// mesh. The header is cut to 80 bytes and padded with zeros; one that begins
// with "solid", which readers take for ASCII, gets "STL " in front. It
// returns an error that wraps ErrNotFinite, after writing some of the facets,
// when a vertex is not finite in single precision.
func WriteBinary(w io.Writer, m *mesh.Mesh, header string) error {
	if len(m.Facets) > MaxFacets {
		return fmt.Errorf("%d facets: %w", len(m.Facets), ErrTooLarge)
	}
	if m.Attributes != nil && len(m.Attributes) != len(m.Facets) {
		return fmt.Errorf("%d attribute words for %d facets", len(m.Attributes), len(m.Facets))
	}
	head := make([]byte, headerSize)
	copy(head[:80], safeHeader(header))
	binary.LittleEndian.PutUint32(head[80:], uint32(len(m.Facets)))
	if _, err := w.Write(head); err != nil {
		return err
	}
	if len(m.Facets) <= block {
		b := make([]byte, len(m.Facets)*recordSize)
		if err := putRecords(b, m, 0); err != nil {
			return err
		}
		_, err := w.Write(b)
		return err
	}
	return writeBlocks(w, m)
}

// writeBlocks writes all records; while one block is written, the next one is filled.
func writeBlocks(w io.Writer, m *mesh.Mesh) error {
	full, free, done := make(chan []byte), make(chan []byte, 2), make(chan error, 1)
	free <- make([]byte, block*recordSize)
	free <- make([]byte, block*recordSize)
	var failed atomic.Bool
	go func() {
		var err error
		for b := range full {
			if err == nil {
				_, err = w.Write(b)
				failed.Store(err != nil)
			}
			free <- b[:cap(b)]
		}
		done <- err
	}()
	var wrong error
	for first := 0; first < len(m.Facets) && wrong == nil && !failed.Load(); first += block {
		b := <-free
		b = b[:(min(first+block, len(m.Facets))-first)*recordSize]
		if wrong = putRecords(b, m, first); wrong == nil {
			full <- b
		}
	}
	close(full)
	if err := <-done; err != nil {
		return err
	}
	return wrong
}

// putRecords fills b with the records of the facets from first on.
func putRecords(b []byte, m *mesh.Mesh, first int) error {
	var bad atomic.Bool
	mesh.InChunks(len(b)/recordSize, 0, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if !putRecord(b[i*recordSize:], m, first+i) {
				bad.Store(true)
				return
			}
		}
	})
	for i := 0; bad.Load() && i < len(b)/recordSize; i++ { // the first of them
		if !putRecord(b[i*recordSize:], m, first+i) {
			return notFinite(m, first+i)
		}
	}
	return nil
}

// safeHeader keeps a header from looking like an ASCII file.
func safeHeader(h string) string {
	for i := 0; i < len(h); i++ {
		if h[i] > ' ' {
			if scan.HasPrefixFold([]byte(h[i:min(len(h), i+5)]), "solid") {
				return "STL " + h[i:]
			}
			break
		}
	}
	return h
}

// putRecord writes the record of facet f; it returns false when a corner is not finite.
func putRecord(b []byte, m *mesh.Mesh, f int) bool {
	b = b[:recordSize:recordSize]
	t := corners(m, f)
	n := normal(&t)
	for i, v := range n {
		binary.LittleEndian.PutUint32(b[4*i:], math.Float32bits(v))
	}
	var sum float32 // stays zero exactly when all corners are finite
	for k := range 3 {
		for i, v := range t[k] {
			sum += v - v
			binary.LittleEndian.PutUint32(b[12+12*k+4*i:], math.Float32bits(v))
		}
	}
	var word uint16
	if m.Attributes != nil {
		word = m.Attributes[f]
	}
	binary.LittleEndian.PutUint16(b[48:], word)
	return sum == 0
}

// corners returns the corners of facet f as a file holds them.
func corners(m *mesh.Mesh, f int) (t [3][3]float32) {
	for k, i := range m.Facets[f] {
		v := &m.Vertices[i]
		t[k] = [3]float32{float32(v.X), float32(v.Y), float32(v.Z)}
	}
	return t
}

// normal returns the unit normal of a facet, zero for one without area.
func normal(t *[3][3]float32) [3]float32 {
	ax, ay, az := float64(t[0][0]), float64(t[0][1]), float64(t[0][2])
	ux, uy, uz := float64(t[1][0])-ax, float64(t[1][1])-ay, float64(t[1][2])-az
	vx, vy, vz := float64(t[2][0])-ax, float64(t[2][1])-ay, float64(t[2][2])-az
	x := float64(uy*vz) - float64(uz*vy)
	y := float64(uz*vx) - float64(ux*vz)
	z := float64(ux*vy) - float64(uy*vx)
	// Products of single-precision lengths and their squares cannot leave double precision.
	l := math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
	if l == 0 {
		return [3]float32{}
	}
	return [3]float32{float32(x / l), float32(y / l), float32(z / l)}
}

func notFinite(m *mesh.Mesh, f int) error {
	for k, i := range m.Facets[f] {
		for _, v := range []float64{m.Vertices[i].X, m.Vertices[i].Y, m.Vertices[i].Z} {
			if !isFinite(float32(v)) {
				return fmt.Errorf("facet %d: corner %d holds %v: %w", f+1, k+1, v, ErrNotFinite)
			}
		}
	}
	return ErrNotFinite
}
