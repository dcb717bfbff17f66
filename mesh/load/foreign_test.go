package load

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"skinstock/mesh/file"
	"skinstock/mesh/meshtest"
)

// A file of another kind is told by what it is, not by what the STL reader
// stumbles over.
func TestFilesThatAreNoPart(t *testing.T) {
	picture, err := os.ReadFile(filepath.Join(meshtest.Root(t), "testdata", "golden", "demo-section.png"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ data, want string }{
		{string(picture), "the file is a PNG picture, not a mesh; name the part's own file"},
		{"\xff\xd8\xff\xe0\x00\x10JFIF", "the file is a JPEG picture, not a mesh; name the part's own file"},
		{"GIF89a\x01\x00", "the file is a GIF picture, not a mesh; name the part's own file"},
		{"%PDF-1.7\n", "the file is a PDF document, not a mesh; name the part's own file"},
		{"\x1f\x8b\x08\x00" + strings.Repeat("\x00", 200), "the file is compressed with gzip, not a mesh; unpack it first"},
		{"ISO-10303-21;\nHEADER;\n", "the file is a STEP file, which holds curved surfaces, not a mesh; export the part as triangles: STL, 3MF, OBJ, OFF or PLY"},
		{"\nversion: 1\n", `line 2: the text begins with "version:", an ASCII STL file with "solid"; export the part as triangles: STL, 3MF, OBJ, OFF or PLY`},
	} {
		_, err := Read(strings.NewReader(c.data), int64(len(c.data)), Options{})
		if !errors.Is(err, file.ErrFormat) || err.Error() != c.want {
			t.Errorf("%.10q: %v, want %s", c.data, err, c.want)
		}
	}
}
