package bvh_test

import (
	"os"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/stl"
)

func load(t *testing.T, name string) *mesh.Mesh {
	t.Helper()
	f, err := os.Open(meshtest.Shared(t, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	file, err := stl.Read(f, -1, stl.Options{})
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := mesh.Build(&file.Soup, mesh.BuildOptions{UnitMM: 1})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Parts whose source says that nothing meets, and one that overlaps itself all over.
func TestRealPartsCrossings(t *testing.T) {
	for _, name := range []string{"hook-organic.stl", "chain-40-links.stl", "plate-holes.stl", "l-bracket.stl", "rail-mount.stl", "nut-coarse.stl", "voronoi-beam-lattice.stl"} {
		m := load(t, name)
		c, err := bvh.New(m, 0).SelfCrossings(t.Context(), bvh.CrossingOptions{Limit: 3})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d facets, %d pairs, %v, %d without area", name, len(m.Facets), c.Total, c.Pairs, c.NoArea)
		if overlaps := name == "voronoi-beam-lattice.stl"; overlaps != (c.Total > 0) {
			t.Errorf("%s: %d pairs cross, %v", name, c.Total, c.Pairs)
		}
	}
}
