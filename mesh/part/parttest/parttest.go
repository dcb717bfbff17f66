// Package parttest reads parts for the tests of packages that take one.
package parttest

import (
	"os"
	"path/filepath"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/part"
)

// Read returns the part in a file, mended as the program does it; the zero unit
// is the file's own, or mm.
func Read(t testing.TB, path string, unit mesh.Unit) *part.Part {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	p, err := part.Read(filepath.Base(path), f, st.Size(), part.Options{Unit: unit})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Shared returns a real part. The test is skipped where the folder of real
// meshes is absent.
func Shared(t testing.TB, name string) *part.Part {
	t.Helper()
	return Read(t, meshtest.Shared(t, name), mesh.Unit{})
}

// Demo returns the demo part.
func Demo(t testing.TB) *part.Part {
	t.Helper()
	return Read(t, meshtest.Testdata(t, "parts", "lander-bracket.stl"), mesh.Unit{})
}
