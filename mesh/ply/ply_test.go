package ply

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/file/filetest"
)

const (
	head = "ply\nformat ascii 1.0\ncomment a tetrahedron\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n" +
		"element face 4\nproperty list uchar int vertex_indices\nend_header\n"
	tetra = head + "0 0 0\n10 0 0\n0 10 0\n0 0 10\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"
)

func read(r io.Reader, size int64) (*file.Part, error) { return Read(r, size, Options{}) }

func tetraMesh() *mesh.Mesh {
	return &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 10}, {Y: 10}, {Z: 10}},
		Facets:   [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
	}
}

// binaryTetra is a file of double coordinates with colours between them, short
// indices, a flag behind them, and an element of another kind in the middle.
func binaryTetra(order binary.AppendByteOrder, name, end string) string {
	b := []byte(strings.ReplaceAll("ply\nformat "+name+" 1.0\nelement vertex 4\nproperty double x\nproperty uchar red\nproperty double y\nproperty double z\n"+
		"element edge 2\nproperty list ushort int16 ends\nproperty float32 length\nelement nothing 99999999\n"+
		"element face 4\nproperty list int32 uint16 vertex_index\nproperty int8 flag\nend_header\n", "\n", end))
	for _, p := range [][3]float64{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}, {0, 0, 10}} {
		b = order.AppendUint64(b, math.Float64bits(p[0]))
		b = append(b, 200)
		b = order.AppendUint64(b, math.Float64bits(p[1]))
		b = order.AppendUint64(b, math.Float64bits(p[2]))
	}
	for n := range 2 {
		b = order.AppendUint16(b, uint16(n))
		for range n {
			b = order.AppendUint16(b, 7)
		}
		b = order.AppendUint32(b, 0)
	}
	for _, f := range tetraMesh().Facets {
		b = order.AppendUint32(b, 3)
		for _, v := range f {
			b = order.AppendUint16(b, uint16(v))
		}
		b = append(b, 1)
	}
	return string(b)
}

func TestReadAccepts(t *testing.T) {
	for name, text := range map[string]string{
		"text":             tetra,
		"CR LF":            strings.ReplaceAll(tetra, "\n", "\r\n"),
		"CR":               strings.ReplaceAll(tetra, "\n", "\r"),
		"no last line end": strings.TrimSpace(tetra),
		"little-endian":    binaryTetra(binary.LittleEndian, "binary_little_endian", "\n"),
		"big-endian":       binaryTetra(binary.BigEndian, "binary_big_endian", "\n"),
		"binary, CR LF":    binaryTetra(binary.LittleEndian, "binary_little_endian", "\r\n"),
		"binary, CR":       binaryTetra(binary.LittleEndian, "binary_little_endian", "\r"),
	} {
		if p := filetest.ReadsTetra(t, read, name, text); p != nil && len(p.Findings) > 0 {
			t.Errorf("%s: findings %v", name, p.Findings)
		}
	}
}

// A first coordinate whose first byte is a line feed must not be taken for
// part of the header's end.
func TestReadBinaryThatBeginsWithLineFeed(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		text := binaryTetra(binary.LittleEndian, "binary_little_endian", end)
		at := strings.Index(text, "end_header"+end) + len("end_header"+end)
		text = text[:at] + "\n" + text[at+1:] // 0x0A in the lowest byte of a double zero: 4.9e-323
		p, err := Read(strings.NewReader(text), -1, Options{})
		if err != nil || !slices.Equal(p.Soup.Corners, filetest.TetraCorners()) {
			t.Errorf("%q: %v", end, err)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	bin := binaryTetra(binary.LittleEndian, "binary_little_endian", "\n")
	re := strings.NewReplacer
	tests := []struct {
		name, text string
		err        error
		line       int
	}{
		{"empty", "", file.ErrEmpty, 0},
		{"another format", "solid part\n", file.ErrFormat, 1},
		{"header cut", head[:60], file.ErrTruncated, 5},
		{"no format", re("format ascii 1.0\n", "").Replace(tetra), file.ErrSyntax, 9},
		{"version", re("1.0", "2.0").Replace(tetra), file.ErrUnsupported, 2},
		{"encoding", re("ascii", "zip").Replace(tetra), file.ErrUnsupported, 2},
		{"stray line", re("comment", "remark").Replace(tetra), file.ErrSyntax, 3},
		{"count", re("vertex 4", "vertex four").Replace(tetra), file.ErrNumber, 4},
		{"type", re("float x", "real x").Replace(tetra), file.ErrSyntax, 5},
		{"no z", re("float z", "float w").Replace(tetra), file.ErrSyntax, 11},
		{"no list", re("vertex_indices", "corners").Replace(tetra), file.ErrSyntax, 14},
		{"length of a list", re("uchar int", "float int").Replace(tetra), file.ErrSyntax, 9},
		{"twice", re("element face", "element vertex").Replace(tetra), file.ErrSyntax, 8},
		{"strips", re("element face", "element tristrips").Replace(tetra), file.ErrUnsupported, 14},
		{"no faces", re("face 4", "face 0", "3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n", "").Replace(tetra), file.ErrNoFacets, 14},
		{"high count", re("face 4", "face 2000000000").Replace(tetra), file.ErrTruncated, 19},
		{"low count", re("face 4", "face 3").Replace(tetra), file.ErrSyntax, 18},
		{"absurd count", re("vertex 4", "vertex 99999999999").Replace(tetra), file.ErrTooLarge, 11},
		{"number", re("\n10 0 0", "\n1O 0 0").Replace(tetra), file.ErrNumber, 12},
		{"not finite", re("\n10 0 0", "\n10 nan 0").Replace(tetra), file.ErrNotFinite, 12},
		{"vertex 4", re("3 0 2 1", "3 0 2 4").Replace(tetra), file.ErrIndex, 15},
		{"vertex -1", re("3 0 2 1", "3 0 2 -1").Replace(tetra), file.ErrIndex, 15},
		{"length", re("3 0 2 1", "-3 0 2 1").Replace(tetra), file.ErrNumber, 15},
		{"many corners", re("3 0 2 1", "3000000 0 2 1").Replace(tetra), file.ErrTooLarge, 15},
		{"binary cut", bin[:len(bin)-1], file.ErrTruncated, 0},
		{"binary cut in the vertices", bin[:strings.Index(bin, "end_header")+50], file.ErrTruncated, 0},
	}
	for _, tt := range tests {
		filetest.Refuses(t, read, tt.name, tt.text, tt.err, tt.line)
	}
}

func TestWriteRoundTrip(t *testing.T) {
	m := tetraMesh()
	var b bytes.Buffer
	err := Write(&b, m, []Scalar{{"allowance_um", []float64{60, 70, 80, 90}}, {"f", []float64{1, 0.5, 0.25, 0}}}, "grown\nelement vertex 9")
	if err != nil {
		t.Fatal(err)
	}
	const want = "ply\nformat binary_little_endian 1.0\ncomment grown element vertex 9\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n" +
		"property float allowance_um\nproperty float f\nelement face 4\nproperty list uchar int vertex_indices\nend_header\n"
	if !strings.HasPrefix(b.String(), want) || b.Len() != len(want)+4*20+4*13 {
		t.Fatalf("wrote %d bytes %q", b.Len(), b.String())
	}
	record := b.Bytes()[len(want)+20:]
	for i, v := range []float32{10, 0, 0, 70, 0.5} {
		if got := math.Float32frombits(binary.LittleEndian.Uint32(record[4*i:])); got != v {
			t.Errorf("value %d of the second vertex: %v, want %v", i, got, v)
		}
	}
	p, err := Read(&b, -1, Options{})
	if err != nil || !slices.Equal(p.Soup.Corners, filetest.TetraCorners()) {
		t.Errorf("read back: %v", err)
	}
}

func TestWriteRefuses(t *testing.T) {
	m := tetraMesh()
	for name, s := range map[string]Scalar{
		"too few":    {"a", []float64{1}},
		"no name":    {"", []float64{1, 2, 3, 4}},
		"line end":   {"a\nend_header", []float64{1, 2, 3, 4}},
		"not finite": {"a", []float64{1, 2, math.NaN(), 4}},
	} {
		if err := Write(&bytes.Buffer{}, m, []Scalar{s}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	m.Vertices[2].Y = math.Inf(1)
	if err := Write(&bytes.Buffer{}, m, nil); err == nil {
		t.Error("an infinite vertex is written")
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(tetra))
	f.Add([]byte(binaryTetra(binary.LittleEndian, "binary_little_endian", "\n")))
	f.Add([]byte(binaryTetra(binary.BigEndian, "binary_big_endian", "\r")))
	// A corner takes 1 byte and makes a facet of 36, with copies of growing slices.
	f.Fuzz(func(t *testing.T, data []byte) { filetest.Survives(t, read, data, 300) })
}
