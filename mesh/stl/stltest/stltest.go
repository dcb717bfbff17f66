// Package stltest reads STL files for the tests of packages that take a mesh.
package stltest

import (
	"os"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/stl"
)

// Soup returns the facets of a file as they stand in it.
func Soup(t testing.TB, path string) *mesh.Soup {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	file, err := stl.Read(f, -1, stl.Options{})
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return &file.Soup
}

// Shared returns a real mesh in mm, mended as the program does it. The test is
// skipped where the folder of real meshes is absent.
func Shared(t testing.TB, name string) *mesh.Mesh {
	t.Helper()
	m, _, err := mesh.Build(Soup(t, meshtest.Shared(t, name)), mesh.BuildOptions{UnitMM: 1})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return m
}

// Welded returns the facets of a file, times a length in mm, with corners that
// are equal bit for bit made one vertex, and nothing mended.
func Welded(t testing.TB, path string, unitMM float64) *mesh.Mesh {
	t.Helper()
	at := map[[3]float32]int32{}
	m := &mesh.Mesh{}
	for _, corners := range Soup(t, path).Corners {
		var facet [3]int32
		for k, p := range corners {
			v, ok := at[p]
			if !ok {
				v = int32(len(m.Vertices))
				at[p] = v
				m.Vertices = append(m.Vertices, r3.Vector{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])}.Mul(unitMM))
			}
			facet[k] = v
		}
		m.Facets = append(m.Facets, facet)
	}
	return m
}
