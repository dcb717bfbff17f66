package load

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/ply"
	"skinstock/mesh/stl"
	"skinstock/mesh/threemf"
)

func tetra() *mesh.Mesh {
	return &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 10}, {Y: 10}, {Z: 10}},
		Facets:   [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
	}
}

// written returns what a writer writes.
func written(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The same part comes out of every format, whichever way the bytes arrive.
func TestReadEveryFormat(t *testing.T) {
	m := tetra()
	const vertices, faces = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\n", "f 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"
	const off = "4 4 6\n0 0 0\n10 0 0\n0 10 0\n0 0 10\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"
	stlWith := func(header string) []byte {
		return written(t, func(w io.Writer) error { return stl.WriteBinary(w, m, header) })
	}
	tests := []struct {
		name   string
		data   []byte
		format string
		unitMM float64
	}{
		{"binary STL", stlWith("part"), file.STLBinary, 0},
		{"binary STL that begins like an OBJ file", stlWith("v 1.0 of a part"), file.STLBinary, 0},
		{"binary STL that begins like an OFF file", stlWith("OFF 4 4"), file.STLBinary, 0},
		{"ASCII STL", written(t, func(w io.Writer) error { return stl.WriteASCII(w, m, "part") }), file.STLASCII, 0},
		{"3MF", written(t, func(w io.Writer) error { return threemf.Write(w, m, threemf.WriteOptions{}) }), file.ThreeMF, 1},
		{"PLY", written(t, func(w io.Writer) error { return ply.Write(w, m, nil) }), file.PLY, 0},
		{"OBJ", []byte(vertices + faces), file.OBJ, 0},
		{"OBJ behind comments", []byte(strings.Repeat("# a comment\n", 1000) + "o part\n" + vertices + faces), file.OBJ, 0},
		{"OFF", []byte("OFF\n" + off), file.OFF, 0},
		{"OFF with a byte-order mark", []byte("\xEF\xBB\xBF# part\nOFF " + off), file.OFF, 0},
	}
	var want [][3][3]float32
	for _, f := range m.Facets {
		var c [3][3]float32
		for k, v := range f {
			p := m.Vertices[v]
			c[k] = [3]float32{float32(p.X), float32(p.Y), float32(p.Z)}
		}
		want = append(want, c)
	}
	for _, tt := range tests {
		for how, read := range map[string]func() (*file.Part, error){
			"in place":    func() (*file.Part, error) { return Read(bytes.NewReader(tt.data), int64(len(tt.data)), Options{}) },
			"from a pipe": func() (*file.Part, error) { return Read(io.MultiReader(bytes.NewReader(tt.data)), -1, Options{}) },
			"byte by byte": func() (*file.Part, error) {
				return Read(iotest.OneByteReader(bytes.NewReader(tt.data)), int64(len(tt.data)), Options{})
			},
		} {
			p, err := read()
			if err != nil {
				t.Errorf("%s, %s: %v", tt.name, how, err)
				continue
			}
			if p.Format != tt.format || p.UnitMM != tt.unitMM || !slices.Equal(p.Soup.Corners, want) {
				t.Errorf("%s, %s: %s with unit %v and corners %v", tt.name, how, p.Format, p.UnitMM, p.Soup.Corners)
			}
		}
		if _, err := Read(bytes.NewReader(tt.data), int64(len(tt.data)), Options{MaxFacets: 3}); !errors.Is(err, file.ErrTooLarge) {
			t.Errorf("%s, limit 3: error %v, want ErrTooLarge", tt.name, err)
		}
	}
}

// No STL file is taken for another format: what the STL reader accepts or
// refuses, this package does too.
func TestReadLeavesSTLToItsReader(t *testing.T) {
	files, err := filepath.Glob(meshtest.Testdata(t, "stl", "*.stl"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files: %v", err)
	}
	if shared, err := filepath.Glob(filepath.Join(meshtest.Root(t), "..", "shared", "meshes", "*.stl")); err == nil {
		files = append(files, shared...)
	}
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		f, want := stl.Read(bytes.NewReader(data), int64(len(data)), stl.Options{})
		p, err := Read(bytes.NewReader(data), int64(len(data)), Options{})
		if filepath.Base(path) == "fail-picture.stl" { // told by what it is
			continue
		}
		if filepath.Base(path) == "fail-other-text.stl" {
			if !errors.Is(err, file.ErrTruncated) { // an OFF file under another name, and cut
				t.Errorf("%s: error %v, want ErrTruncated", path, err)
			}
			continue
		}
		if (err == nil) != (want == nil) || err != nil && err.Error() != want.Error() {
			t.Errorf("%s: error %v, want %v", path, err, want)
		}
		if err == nil && !slices.Equal(p.Soup.Corners, f.Soup.Corners) {
			t.Errorf("%s: other facets", path)
		}
	}
}

func TestReadPassesReadErrorsOn(t *testing.T) {
	broken := errors.New("input/output error")
	for _, start := range []string{"", "PK\x03\x04", "ply\n", "OFF\n", "v 0 0 0\n", "solid\n"} {
		if _, err := Read(io.MultiReader(strings.NewReader(start), iotest.ErrReader(broken)), -1, Options{}); !errors.Is(err, broken) {
			t.Errorf("behind %q: error %v, want %v", start, err, broken)
		}
	}
}

func TestReadEmpty(t *testing.T) {
	if _, err := Read(strings.NewReader(""), 0, Options{}); !errors.Is(err, file.ErrEmpty) {
		t.Errorf("error %v, want ErrEmpty", err)
	}
}
