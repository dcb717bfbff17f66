package stl

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/file/filetest"
)

// unwelded returns the mesh whose facets have vertices of their own.
func unwelded(s *mesh.Soup) *mesh.Mesh {
	m := &mesh.Mesh{Attributes: s.Attributes, Solids: s.Solids}
	for f, t := range s.Corners {
		for _, p := range t {
			m.Vertices = append(m.Vertices, r3.Vector{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])})
		}
		m.Facets = append(m.Facets, [3]int32{int32(3 * f), int32(3*f + 1), int32(3*f + 2)})
	}
	return m
}

func TestWriteBinaryBytes(t *testing.T) {
	m := unwelded(&mesh.Soup{Corners: tetra, Attributes: []uint16{1, 0, 0x8000, 0}})
	var b bytes.Buffer
	if err := WriteBinary(&b, m, "tetrahedron"); err != nil {
		t.Fatal(err)
	}
	// The normals of this part by hand.
	s := float32(1 / math.Sqrt(3))
	normals := [][3]float32{{0, 0, -1}, {0, -1, 0}, {-1, 0, 0}, {s, s, s}}
	want := binaryTetra("tetrahedron", 4)[:headerSize]
	for i := range tetra {
		want = appendRecord(want, normals[i], &tetra[i], m.Attributes[i])
	}
	got := b.Bytes()
	for at := headerSize; at+12 <= len(got); at += recordSize { // -0 and 0 are the same normal
		for i := range 3 {
			if v := math.Float32frombits(binary.LittleEndian.Uint32(got[at+4*i:])); v == 0 {
				binary.LittleEndian.PutUint32(got[at+4*i:], 0)
			}
		}
	}
	if !bytes.Equal(got, want) {
		t.Errorf("wrote\n%x, want\n%x", got, want)
	}
}

func TestWriteBinaryHeader(t *testing.T) {
	for header, want := range map[string]string{
		"":                        "",
		"part grown, mm":          "part grown, mm",
		"solid part":              "STL solid part",
		"  SOLID":                 "STL SOLID",
		"solids of a kind":        "STL solids of a kind",
		"a solid part":            "a solid part",
		strings.Repeat("x", 100):  strings.Repeat("x", 80),
		"COLOR=\x01\x00\x02\xff,": "COLOR=\x01\x00\x02\xff,",
	} {
		var b bytes.Buffer
		if err := WriteBinary(&b, unwelded(&mesh.Soup{Corners: tetra}), header); err != nil {
			t.Fatal(err)
		}
		f, err := Read(&b, -1, Options{})
		if err != nil || f.HeaderText() != want {
			t.Errorf("header %q comes back as %q (%v), want %q", header, f.HeaderText(), err, want)
		}
	}
}

func TestWriteEmptyMesh(t *testing.T) {
	var b bytes.Buffer
	if err := WriteBinary(&b, &mesh.Mesh{}, ""); err != nil || b.Len() != headerSize {
		t.Errorf("wrote %d bytes (%v), want %d", b.Len(), err, headerSize)
	}
}

func TestNormal(t *testing.T) {
	tests := []struct {
		name string
		t    [3][3]float32
		want [3]float32
	}{
		{"no area", [3][3]float32{{1, 2, 3}, {1, 2, 3}, {4, 5, 6}}, [3]float32{}},
		{"on a line", [3][3]float32{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}}, [3]float32{}},
		{"smallest", [3][3]float32{{}, {1e-45, 0, 0}, {0, 1e-45, 0}}, [3]float32{0, 0, 1}},
		{"largest", [3][3]float32{{-3e38, -3e38, 0}, {3e38, -3e38, 0}, {-3e38, 3e38, 0}}, [3]float32{0, 0, 1}},
		{"needle", [3][3]float32{{0, 0, 0}, {1e6, 0, 0}, {0, 0, 1e-6}}, [3]float32{0, -1, 0}},
	}
	for _, tt := range tests {
		if got := normal(&tt.t); got != tt.want {
			t.Errorf("%s: normal %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestWriteASCIIText(t *testing.T) {
	m := unwelded(&mesh.Soup{Corners: [][3][3]float32{{{0, 0, 0}, {0.1, 0, 0}, {0, 1e-7, 0}}}})
	var b bytes.Buffer
	if err := WriteASCII(&b, m, "part"); err != nil {
		t.Fatal(err)
	}
	const want = `solid part
 facet normal 0 0 1
  outer loop
   vertex 0 0 0
   vertex 0.1 0 0
   vertex 0 1e-07 0
  endloop
 endfacet
endsolid part
`
	if b.String() != want {
		t.Errorf("wrote\n%s, want\n%s", b.String(), want)
	}
}

func TestWriteASCIIKeepsSolids(t *testing.T) {
	m := unwelded(&mesh.Soup{Corners: tetra})
	tests := []struct {
		name   string
		solids []mesh.Solid
		want   []mesh.Solid
	}{
		{"none", nil, []mesh.Solid{{Name: "rest", Count: 4}}},
		{"two and an empty one", []mesh.Solid{{Name: "a", Count: 1}, {Name: "b", First: 1}, {First: 1, Count: 3}}, []mesh.Solid{{Name: "a", Count: 1}, {Name: "b", First: 1}, {First: 1, Count: 3}}},
		{"gaps", []mesh.Solid{{Name: "a", First: 1, Count: 1}}, []mesh.Solid{{Name: "rest", Count: 1}, {Name: "a", First: 1, Count: 1}, {Name: "rest", First: 2, Count: 2}}},
		{"bytes", []mesh.Solid{{Name: "\xff\xfe 月 #1", Count: 4}}, []mesh.Solid{{Name: "\xff\xfe 月 #1", Count: 4}}},
		{"hostile", []mesh.Solid{{Name: "x\nendsolid\n\x00 # y ", Count: 4}}, []mesh.Solid{{Name: "x endsolid   - y", Count: 4}}},
	}
	for _, tt := range tests {
		m.Solids = tt.solids
		var b bytes.Buffer
		if err := WriteASCII(&b, m, "rest"); err != nil {
			t.Fatal(err)
		}
		f, err := Read(&b, -1, Options{})
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if !slices.Equal(f.Soup.Solids, tt.want) {
			t.Errorf("%s: solids %+v, want %+v", tt.name, f.Soup.Solids, tt.want)
		}
		sameCorners(t, &f.Soup, m)
	}
	for _, bad := range [][]mesh.Solid{
		{{Count: 5}},
		{{First: 2, Count: 1}, {First: 1, Count: 1}},
		{{Count: -1}},
	} {
		m.Solids = bad
		if err := WriteASCII(io.Discard, m, ""); err == nil {
			t.Errorf("solids %v are written", bad)
		}
	}
}

// Corners survive to the last bit, smallest and largest numbers included.
func TestRoundTripBits(t *testing.T) {
	soup := &mesh.Soup{Corners: [][3][3]float32{
		{{1e-45, -1e-45, 0}, {math.MaxFloat32, -math.MaxFloat32, 1.1754944e-38}, {0.1, 1.0 / 3, 16777217}},
		{{float32(math.Copysign(0, -1)), 1, 2}, {123456.789, 1e-7, 9.999999e9}, {math.Pi, math.E, -0.0001}},
	}}
	m := unwelded(soup)
	var bin, txt bytes.Buffer
	if err := errors.Join(WriteBinary(&bin, m, ""), WriteASCII(&txt, m, "")); err != nil {
		t.Fatal(err)
	}
	for _, b := range []*bytes.Buffer{&bin, &txt} {
		f, err := Read(b, -1, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, tri := range soup.Corners {
			for k := range tri {
				for j, v := range tri[k] {
					if got := f.Soup.Corners[i][k][j]; math.Float32bits(got) != math.Float32bits(v) {
						t.Errorf("%v: %g comes back as %g", f.Format, v, got)
					}
				}
			}
		}
	}
}

func TestWriteRefusesWhatIsNotFinite(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), 1e39} {
		m := unwelded(&mesh.Soup{Corners: tetra})
		m.Vertices[5].Y = bad
		if err := WriteBinary(io.Discard, m, ""); !errors.Is(err, ErrNotFinite) {
			t.Errorf("WriteBinary with %v: %v, want ErrNotFinite", bad, err)
		}
		if err := WriteASCII(io.Discard, m, ""); !errors.Is(err, ErrNotFinite) {
			t.Errorf("WriteASCII with %v: %v, want ErrNotFinite", bad, err)
		}
	}
}

// full is a disk with room for n bytes.
type full struct{ n int }

var errFull = errors.New("no space left on device")

func (w *full) Write(p []byte) (int, error) {
	if len(p) > w.n {
		return 0, errFull
	}
	w.n -= len(p)
	return len(p), nil
}

func TestWritePassesErrorsOn(t *testing.T) {
	m := filetest.WavySheet(40)
	for _, n := range []int{0, 1, headerSize, 70000, 100000} {
		if err := WriteBinary(&full{n}, m, ""); !errors.Is(err, errFull) {
			t.Errorf("binary, room for %d bytes: %v", n, err)
		}
		if err := WriteASCII(&full{n}, m, ""); !errors.Is(err, errFull) {
			t.Errorf("ASCII, room for %d bytes: %v", n, err)
		}
	}
}

func TestWriteAllocatesTheSameForAnySize(t *testing.T) {
	small, large := filetest.WavySheet(4), filetest.WavySheet(60)
	for name, write := range map[string]func(*mesh.Mesh) error{
		"binary": func(m *mesh.Mesh) error { return WriteBinary(io.Discard, m, "") },
		"ascii":  func(m *mesh.Mesh) error { return WriteASCII(io.Discard, m, "") },
	} {
		count := func(m *mesh.Mesh) float64 {
			return testing.AllocsPerRun(3, func() {
				if err := write(m); err != nil {
					t.Fatal(err)
				}
			})
		}
		if a, b := count(small), count(large); a != b {
			t.Errorf("%s: %v allocations for 32 facets, %v for 7,200", name, a, b)
		}
	}
}
