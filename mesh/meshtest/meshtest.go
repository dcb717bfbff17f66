// Package meshtest finds the test parts of the repository and of the folder of
// real meshes beside it. It is for tests only.
package meshtest

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
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

// Admesh asks an independent program, where it is installed, whether the STL
// file at path is closed, and compares its facets and volume in mm3.
func Admesh(t testing.TB, path string, facets int, volumeMM3 float64) {
	t.Helper()
	exe, err := exec.LookPath("admesh")
	if err != nil {
		t.Log("admesh is not installed: not compared")
		return
	}
	out, err := exec.Command(exe, "--normal-directions", "--exact", path).CombinedOutput()
	if err != nil {
		t.Fatalf("admesh: %v: %s", err, out)
	}
	number := func(pattern string) float64 {
		m := regexp.MustCompile(pattern + `\s*:\s*(\S+)`).FindSubmatch(out)
		if m == nil {
			t.Fatalf("admesh: no %q in %s", pattern, out)
		}
		v, err := strconv.ParseFloat(string(m[1]), 64)
		if err != nil {
			t.Fatalf("admesh: %v", err)
		}
		return v
	}
	if n := number("Number of facets"); n != float64(facets) {
		t.Errorf("admesh counts %g facets, want %d", n, facets)
	}
	for _, fault := range []string{"Total disconnected facets", "Backwards edges"} {
		if n := number(fault); n != 0 {
			t.Errorf("admesh: %s: %g", fault, n)
		}
	}
	// admesh sums in single precision: on 517,000 facets it was 1.3e-4 off where
	// VTK and a sum in double precision agreed with volumeMM3 to nine digits.
	if v := number("Volume"); math.Abs(v-volumeMM3) > max(1e-4, 4e-10*float64(facets))*volumeMM3 {
		t.Errorf("admesh: volume of %g mm3, want %g", v, volumeMM3)
	}
}
