package off

import (
	"io"
	"strings"
	"testing"

	"skinstock/mesh/file"
	"skinstock/mesh/file/filetest"
)

// tetra is a right-angled tetrahedron.
const tetra = "OFF\n4 4 6\n0 0 0\n10 0 0\n0 10 0\n0 0 10\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"

func read(r io.Reader, size int64) (*file.Part, error) { return Read(r, size, Options{}) }

func TestReadAccepts(t *testing.T) {
	for name, text := range map[string]string{
		"plain":              tetra,
		"CR LF":              strings.ReplaceAll(tetra, "\n", "\r\n"),
		"CR":                 strings.ReplaceAll(tetra, "\n", "\r"),
		"no last line end":   strings.TrimSpace(tetra),
		"byte-order mark":    "\xEF\xBB\xBF" + tetra,
		"comments":           "# part\n" + strings.ReplaceAll(tetra, "\n", " # note\n\n"),
		"counts on one line": strings.Replace(tetra, "OFF\n", "OFF ", 1),
		"no edge count":      strings.Replace(tetra, "4 4 6", "4 4", 1),
		"vertex colours":     strings.NewReplacer("OFF", "COFF", "\n10 0 0\n", "\n10 0 0 255 0 0 255\n").Replace(tetra),
		"face colours":       strings.Replace(tetra, "3 0 2 1\n", "3 0 2 1 0.5 0.5 0.5\n", 1),
	} {
		filetest.ReadsTetra(t, read, name, text)
	}
}

func TestReadRefuses(t *testing.T) {
	tests := []struct {
		name, text string
		err        error
		line       int
	}{
		{"empty", "", file.ErrEmpty, 0},
		{"no faces", "OFF\n1 0 0\n0 0 0\n", file.ErrNoFacets, 3},
		{"another format", "solid part\n", file.ErrFormat, 1},
		{"four dimensions", "4OFF\n", file.ErrFormat, 1},
		{"binary", "OFF BINARY\n\x00\x00", file.ErrUnsupported, 1},
		{"count", strings.Replace(tetra, "4 4 6", "4 -4 6", 1), file.ErrNumber, 2},
		{"absurd count", "OFF\n99999999999 1 0\n", file.ErrTooLarge, 2},
		{"high count of vertices", strings.Replace(tetra, "4 4 6", "2000000000 4 6", 1), file.ErrTruncated, 11},
		{"high count of faces", strings.Replace(tetra, "4 4 6", "4 5 6", 1), file.ErrTruncated, 11},
		{"low count of faces", strings.Replace(tetra, "4 4 6", "4 3 6", 1), file.ErrSyntax, 10},
		{"number", strings.Replace(tetra, "\n10 0 0", "\n1O 0 0", 1), file.ErrNumber, 4},
		{"not finite", strings.Replace(tetra, "\n10 0 0", "\n10 inf 0", 1), file.ErrNotFinite, 4},
		{"vertex 4", strings.Replace(tetra, "3 0 2 1", "3 0 2 4", 1), file.ErrIndex, 7},
		{"vertex number", strings.Replace(tetra, "3 0 2 1", "3 0 2 -1", 1), file.ErrNumber, 7},
		{"two corners", strings.Replace(tetra, "3 0 2 1", "2 0 2", 1), file.ErrVertexCount, 7},
		{"absurd corners", strings.Replace(tetra, "3 0 2 1", "900000000 0 2 1", 1), file.ErrTooLarge, 7},
		{"long word", "OFF\n" + strings.Repeat("9", 5000) + "\n", file.ErrSyntax, 2},
	}
	for _, tt := range tests {
		filetest.Refuses(t, read, tt.name, tt.text, tt.err, tt.line)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(tetra))
	f.Add([]byte("COFF 4 1 0\n0 0 0 1 1 1\n4 0 0\n1 1 0\n0 4 0\n4 0 1 2 3 255 0 0\n"))
	// A corner takes 2 bytes of text and makes a facet of 36, with copies of growing slices.
	f.Fuzz(func(t *testing.T, data []byte) { filetest.Survives(t, read, data, 150) })
}
