package offset

import (
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/part"
	"skinstock/mesh/solid"
	"skinstock/offset/recipe"
	"skinstock/region"
)

// On smooth parts nothing hinders the stock: after topping up, neither side of
// the proof may find more missing than the promised 1 um, and no facet is cut.
// The default recipe gives three allowances, whose borders and concave places are where
// the plain move comes out short.
func TestToppedUpPartsLackNothingFromEitherSide(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"demo bracket", solid.LanderBracket(1.6)}, {"smooth bracket", solid.SmoothBracket(1.2)}, {"gyroid", solid.GyroidCube(0.8)}} {
		name, m := c.name, c.m
		for what, fixed := range map[string]map[region.Skin]float64{
			"recipe": nil, "0.3 mm": {region.Upskin: 300, region.Vertical: 300, region.Downskin: 300},
		} {
			rec, err := recipe.Load(recipe.Default)
			if err != nil {
				t.Fatal(err)
			}
			m.RoundToFloat32()
			p := &part.Part{Name: name, Mesh: m, Topo: m.Topology()}
			r, err := Compensate(t.Context(), p, Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}, FixedUM: fixed})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s, %s: %d facets, from the part %.2f um missing, from the grown side %.2f um", name, what, len(m.Facets),
				r.Proof.All.Shortfall.Max.Value*umPerMM, r.Proof.GrownShortfall.Value*umPerMM)
			if !r.Proof.Within() {
				t.Errorf("%s, %s: %v um missing at %v, seen from the grown side %v um at %v", name, what,
					r.Proof.All.Shortfall.Max.Value*umPerMM, r.Proof.All.Shortfall.Max.At, r.Proof.GrownShortfall.Value*umPerMM, r.Proof.GrownShortfall.At)
			}
			if r.Rebuilt > 0 {
				t.Errorf("%s, %s: %d facets are pieces", name, what, r.Rebuilt)
			}
		}
	}
}
