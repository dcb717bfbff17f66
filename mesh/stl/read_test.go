package stl

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"skinstock/mesh"
	"skinstock/mesh/file/filetest"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
)

var update = flag.Bool("update", false, "write testdata/stl from the cases")

// codes returns the codes of the warnings.
func codes(f *File) []string {
	var c []string
	for _, w := range f.Warnings {
		c = append(c, w.Code)
	}
	return c
}

// checkCase reads a case and compares.
func checkCase(t *testing.T, tt *smallCase, r io.Reader, size int64) {
	t.Helper()
	f, err := Read(r, size, Options{})
	if tt.err != nil {
		var e *Error
		switch {
		case !errors.As(err, &e) || !errors.Is(err, tt.err):
			t.Errorf("error %v, want %v", err, tt.err)
		case e.Line != tt.line || e.Line == 0 && e.Offset != tt.offset || e.Line > 0 && e.Offset != -1:
			t.Errorf("error at line %d, byte %d, want %d, %d: %v", e.Line, e.Offset, tt.line, tt.offset, err)
		case !strings.Contains(err.Error(), tt.says):
			t.Errorf("error %q does not say %q", err, tt.says)
		case e.Remedy == "" || strings.ContainsAny(err.Error(), "\n\r\x00"):
			t.Errorf("error %q: no remedy, or not one plain line", err)
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if f.Format != tt.format || !slices.Equal(f.Soup.Corners, tetra) {
		t.Errorf("%v corners %v, want %v %v", f.Format, f.Soup.Corners, tt.format, tetra)
	}
	if !slices.Equal(codes(f), tt.warnings) {
		t.Errorf("warnings %v, want %v", f.Warnings, tt.warnings)
	}
	if !slices.Equal(f.Soup.Solids, tt.solids) {
		t.Errorf("solids %+v, want %+v", f.Soup.Solids, tt.solids)
	}
}

func TestReadSmallCases(t *testing.T) {
	for _, tt := range smallCases() {
		t.Run(tt.name, func(t *testing.T) {
			if pass := strings.HasPrefix(tt.name, "pass-"); pass == (tt.err != nil) || !pass && !strings.HasPrefix(tt.name, "fail-") {
				t.Fatalf("the name and the expected error %v disagree", tt.err)
			}
			checkCase(t, &tt, bytes.NewReader(tt.data), int64(len(tt.data)))
			checkCase(t, &tt, bytes.NewReader(tt.data), -1) // as from a pipe
			checkCase(t, &tt, iotest.OneByteReader(bytes.NewReader(tt.data)), -1)
			checkCase(t, &tt, iotest.DataErrReader(bytes.NewReader(tt.data)), int64(len(tt.data)))
		})
	}
}

// The files that other packages' tests use are those of the table above.
func TestTestdataIsCurrent(t *testing.T) {
	dir := meshtest.Testdata(t, "stl")
	want := map[string]bool{"README.md": true}
	for _, tt := range smallCases() {
		name := tt.name + ".stl"
		want[name] = true
		if *update {
			if err := os.WriteFile(filepath.Join(dir, name), tt.data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !bytes.Equal(got, tt.data) {
			t.Errorf("%s differs from its case (%v): go test ./mesh/stl -update", name, err)
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !want[e.Name()] {
			t.Errorf("%s belongs to no case", e.Name())
		}
	}
}

func TestReadKeepsHeaderAndAttributes(t *testing.T) {
	header := "COLOR=\x80\x00\x80\xff,MATERIAL=\x10\x10\x10\xff"
	data := patch(binaryTetra(header, 4), headerSize+2*recordSize+48, 0x34, 0x12)
	f, err := Read(bytes.NewReader(data), int64(len(data)), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if f.HeaderText() != header || !bytes.Equal(f.Header[:], data[:80]) {
		t.Errorf("header %q, want %q", f.HeaderText(), header)
	}
	if want := []uint16{0, 0, 0x1234, 0}; !slices.Equal(f.Soup.Attributes, want) {
		t.Errorf("attributes %v, want %v", f.Soup.Attributes, want)
	}
}

// Attribute words of records that turn out to be no facets go with them.
func TestReadTrailingRecordsLeaveNoAttributes(t *testing.T) {
	for _, first := range []byte{0, 7} { // the attribute word of the first facet
		data := patch(binaryTetra("", 3), tetraSize-2, 1, 0)
		data = append(patch(data, headerSize+48, first), 9)
		f, err := Read(bytes.NewReader(data), int64(len(data)), Options{})
		if err != nil {
			t.Fatal(err)
		}
		want := []uint16{7, 0, 0}
		if first == 0 {
			want = nil
		}
		if len(f.Soup.Corners) != 3 || !slices.Equal(f.Soup.Attributes, want) {
			t.Errorf("%d facets with attribute words %v, want 3 with %v", len(f.Soup.Corners), f.Soup.Attributes, want)
		}
	}
}

func TestReadMaxFacets(t *testing.T) {
	for _, data := range [][]byte{binaryTetra("", 4), binaryTetra("", 0), binaryTetra("", 3), []byte(asciiTetra("part"))} {
		for _, size := range []int64{int64(len(data)), -1} {
			if _, err := Read(bytes.NewReader(data), size, Options{MaxFacets: 3}); !errors.Is(err, ErrTooLarge) {
				t.Errorf("limit 3: error %v, want ErrTooLarge", err)
			}
			if _, err := Read(bytes.NewReader(data), size, Options{MaxFacets: 4}); err != nil {
				t.Errorf("limit 4: error %v, want none", err)
			}
		}
	}
}

// An error of the disk is passed on, and is not taken for the end of the file.
func TestReadPassesReadErrorsOn(t *testing.T) {
	broken := errors.New("input/output error")
	for _, data := range [][]byte{binaryTetra("", 4), binaryTetra("", 3), binaryTetra("", 0), []byte(asciiTetra("part"))} {
		for cut := range len(data) + 1 {
			r := io.MultiReader(bytes.NewReader(data[:cut]), iotest.ErrReader(broken))
			if _, err := Read(r, int64(len(data)), Options{}); !errors.Is(err, broken) {
				t.Fatalf("cut at %d: error %v, want %v", cut, err, broken)
			}
		}
	}
}

// Every cut of a file is refused, or is a whole number of binary facets and warned about.
func TestReadEveryCut(t *testing.T) {
	data := binaryTetra("", 4)
	for n := range len(data) {
		f, err := Read(bytes.NewReader(data[:n]), int64(n), Options{})
		whole := n > headerSize && (n-headerSize)%recordSize == 0
		if whole && (err != nil || !slices.Equal(codes(f), []string{CodeCount})) || !whole && err == nil {
			t.Errorf("binary cut at %d: %v", n, err)
		}
	}
	text := strings.TrimSpace(asciiTetra(""))
	for n := range len(text) {
		if _, err := Read(strings.NewReader(text[:n]), int64(n), Options{}); err == nil {
			t.Errorf("ASCII cut at %d is accepted", n)
		}
	}
}

// A large file takes several windows; facets must not be lost between them.
func TestReadAcrossWindows(t *testing.T) {
	m := filetest.WavySheet(100) // 20,000 facets: 1 MB binary, 4 MB ASCII
	var bin, txt bytes.Buffer
	if err := errors.Join(WriteBinary(&bin, m, ""), WriteASCII(&txt, m, "grid")); err != nil {
		t.Fatal(err)
	}
	for _, b := range []*bytes.Buffer{&bin, &txt} {
		for how, r := range map[string]io.Reader{
			"whole": bytes.NewReader(b.Bytes()),
			"odd":   &oddReader{b: b.Bytes()},
		} {
			f, err := Read(r, -1, Options{})
			if err != nil {
				t.Fatalf("%s: %v", how, err)
			}
			sameCorners(t, &f.Soup, m)
		}
	}
}

// oddReader reads 4,093 bytes at a time, a prime number.
type oddReader struct{ b []byte }

func (r *oddReader) Read(p []byte) (int, error) {
	if len(r.b) == 0 {
		return 0, io.EOF
	}
	n := copy(p[:min(len(p), 4093)], r.b)
	r.b = r.b[n:]
	return n, nil
}

func sameCorners(t *testing.T, s *mesh.Soup, m *mesh.Mesh) {
	t.Helper()
	if len(s.Corners) != len(m.Facets) {
		t.Fatalf("%d facets, want %d", len(s.Corners), len(m.Facets))
	}
	for f := range m.Facets {
		if want := corners(m, f); s.Corners[f] != want {
			t.Fatalf("facet %d: %v, want %v", f, s.Corners[f], want)
		}
	}
}

// A welder takes most facets before the end of the file, and what it makes of
// them is what is made of the whole soup.
func TestReadWelded(t *testing.T) {
	m := solid.Icosphere(10, 5)
	for _, write := range []func(io.Writer) error{
		func(w io.Writer) error { return WriteBinary(w, m, "") },
		func(w io.Writer) error { return WriteASCII(w, m, "") },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		whole, err := Read(bytes.NewReader(b.Bytes()), -1, Options{})
		if err != nil {
			t.Fatal(err)
		}
		want, _, err := mesh.Build(&whole.Soup, mesh.BuildOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, size := range []int64{int64(b.Len()), -1} {
			w := mesh.NewWelder()
			f, err := Read(bytes.NewReader(b.Bytes()), size, Options{Welder: w})
			if err != nil {
				t.Fatal(err)
			}
			if f.Soup.Len() != len(m.Facets) || len(f.Soup.Corners) > len(m.Facets)/2 {
				t.Errorf("%v: %d facets of %d were read, %d were left", f.Format, f.Soup.Len(), len(m.Facets), len(f.Soup.Corners))
			}
			got, _, err := mesh.Build(&f.Soup, mesh.BuildOptions{Welder: w})
			if err != nil || !slices.Equal(got.Facets, want.Facets) || !slices.Equal(got.Vertices, want.Vertices) {
				t.Errorf("%v: another mesh, error %v", f.Format, err)
			}
		}
	}
}
