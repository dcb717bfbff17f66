// Package meshtest finds the test parts of the repository and of the folder of
// real meshes beside it. It is for tests only.
package meshtest

import (
	"os"
	"path/filepath"
	"testing"
)

// Root returns the repository's root folder.
func Root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test's folder")
		}
		dir = up
	}
}

// Shared returns the path of a real mesh, and skips the test when the folder
// of real meshes is absent.
func Shared(t testing.TB, name string) string {
	t.Helper()
	dir := filepath.Join(Root(t), "..", "shared", "meshes")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("the folder of real meshes, ../shared/meshes, is absent")
	}
	return filepath.Join(dir, name)
}

// Testdata returns the path of a file below the repository's testdata folder.
func Testdata(t testing.TB, elem ...string) string {
	t.Helper()
	return filepath.Join(append([]string{Root(t), "testdata"}, elem...)...)
}
