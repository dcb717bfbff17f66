package obj

import (
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/file/filetest"
)

// tetra is a right-angled tetrahedron.
const tetra = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"

func read(r io.Reader, size int64) (*file.Part, error) { return Read(r, size, Options{}) }

func TestReadAccepts(t *testing.T) {
	tests := []struct {
		name, text string
		solids     []mesh.Solid
	}{
		{"plain", tetra, nil},
		{"CR LF", strings.ReplaceAll(tetra, "\n", "\r\n"), nil},
		{"CR", strings.ReplaceAll(tetra, "\n", "\r"), nil},
		{"no last line end", strings.TrimSpace(tetra), nil},
		{"byte-order mark", "\xEF\xBB\xBF" + tetra, nil},
		{"comments", "# part\n" + strings.ReplaceAll(tetra, "\n", " # note\n"), nil},
		{"texture and normals", strings.NewReplacer("f 1 3 2", "f 1/1/1 3/2/1 2/3/1", "f 1 2 4", "f 1//1 2//1 4//1", "f 1 4 3", "f 1/1 4/2 3/3").Replace("vn 0 0 1\nvt 0 0\n" + tetra), nil},
		{"from the end", strings.NewReplacer("f 1 3 2", "f -4 -2 -3").Replace(tetra), nil},
		{"weights and colours", strings.NewReplacer("v 0 0 0", "v 0 0 0 1.0", "v 10 0 0", "v 10 0 0 0.5 0.5 0.5").Replace(tetra), nil},
		{"carried over", strings.NewReplacer("f 1 3 2", "f 1 \\\n3 \\\n 2").Replace(tetra), nil},
		{"passed over", "mtllib a.mtl\ng side\ns off\nusemtl red\nl 1 2\n" + tetra, nil},
		{"objects", strings.Replace(tetra, "f 1 4 3", "o second part\nf 1 4 3", 1), []mesh.Solid{{Count: 2}, {Name: "second part", First: 2, Count: 2}}},
	}
	for _, tt := range tests {
		if p := filetest.ReadsTetra(t, read, tt.name, tt.text); p != nil && !slices.Equal(p.Soup.Solids, tt.solids) {
			t.Errorf("%s: solids %v, want %v", tt.name, p.Soup.Solids, tt.solids)
		}
	}
}

func TestReadPolygons(t *testing.T) {
	p, err := Read(strings.NewReader("v 0 0 0\nv 4 0 0\nv 1 1 0\nv 0 4 0\nf 1 2 3 4\n"), -1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	// The notch at (1, 1) has to be a corner of both triangles.
	for _, f := range p.Soup.Corners {
		if !slices.Contains(f[:], [3]float32{1, 1, 0}) {
			t.Errorf("triangle %v bridges the notch", f)
		}
	}
	if len(p.Soup.Corners) != 2 {
		t.Errorf("%d triangles, want 2", len(p.Soup.Corners))
	}
}

func TestReadRefuses(t *testing.T) {
	tests := []struct {
		name, text string
		err        error
		line       int
	}{
		{"empty", "", file.ErrEmpty, 0},
		{"no faces", "v 0 0 0\n", file.ErrNoFacets, 0},
		{"another format", "OFF\n1 2 3\n", file.ErrFormat, 1},
		{"stray word", "v 0 0 0\nx\n", file.ErrSyntax, 2},
		{"number", strings.Replace(tetra, "v 10 0 0", "v 10 O 0", 1), file.ErrNumber, 2},
		{"number missing", strings.Replace(tetra, "v 10 0 0", "v 10 0", 1), file.ErrNumber, 2},
		{"not finite", strings.Replace(tetra, "v 10 0 0", "v 10 nan 0", 1), file.ErrNotFinite, 2},
		{"too large", strings.Replace(tetra, "v 10 0 0", "v 10 0 1e40", 1), file.ErrNotFinite, 2},
		{"vertex 0", strings.Replace(tetra, "f 1 3 2", "f 0 3 2", 1), file.ErrIndex, 5},
		{"vertex 5", strings.Replace(tetra, "f 1 3 2", "f 1 3 5", 1), file.ErrIndex, 5},
		{"vertex -5", strings.Replace(tetra, "f 1 3 2", "f -5 3 2", 1), file.ErrIndex, 5},
		{"vertex number", strings.Replace(tetra, "f 1 3 2", "f 1.5 3 2", 1), file.ErrNumber, 5},
		{"two corners", strings.Replace(tetra, "f 1 3 2", "f 1 3", 1), file.ErrVertexCount, 5},
		{"surface", "v 0 0 0\nsurf 0 1 0 1 1\n", file.ErrUnsupported, 2},
		{"long word", "v 1" + strings.Repeat("0", 5000) + "\n", file.ErrSyntax, 1},
		{"many corners", "v 0 0 0\nf" + strings.Repeat(" 1", 70000) + "\n", file.ErrTooLarge, 2},
	}
	for _, tt := range tests {
		filetest.Refuses(t, read, tt.name, tt.text, tt.err, tt.line)
	}
	if _, err := Read(strings.NewReader(tetra), -1, Options{MaxFacets: 3}); !errors.Is(err, file.ErrTooLarge) {
		t.Errorf("limit 3: error %v, want ErrTooLarge", err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(tetra))
	f.Add([]byte("o a\nv 0 0 0\nv 4 0 0\nv 1 1 0\nv 0 4 0\nvn 0 0 1\nf 1//1 2//1 3//1 -1\\\n 2\nl 1 2\n"))
	// A corner takes 2 bytes of text and makes a facet of 36, with copies of growing slices.
	f.Fuzz(func(t *testing.T, data []byte) { filetest.Survives(t, read, data, 150) })
}
