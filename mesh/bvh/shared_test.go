package bvh_test

import (
	"testing"

	"skinstock/mesh/bvh"
	"skinstock/mesh/stl/stltest"
)

// Parts whose source says that nothing meets, and one that overlaps itself all over.
func TestRealPartsCrossings(t *testing.T) {
	for _, name := range []string{"hook-organic.stl", "chain-40-links.stl", "plate-holes.stl", "l-bracket.stl", "rail-mount.stl", "nut-coarse.stl", "voronoi-beam-lattice.stl"} {
		m := stltest.Shared(t, name)
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
