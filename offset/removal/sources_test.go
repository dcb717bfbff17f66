package removal_test

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/recipe"
	"skinstock/offset/removal"
)

// quantities lists every given quantity of a recipe, as pointers into it.
func quantities(v reflect.Value) (out []*recipe.Quantity) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			out = quantities(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			out = append(out, quantities(v.Index(i))...)
		}
	case reflect.Struct:
		if q, ok := v.Addr().Interface().(*recipe.Quantity); ok {
			if q.Given() {
				out = append(out, q)
			}
			return out
		}
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out = append(out, quantities(v.Field(i))...)
			}
		}
	}
	return out
}

func sheetLines(p *removal.Plan) map[string]removal.Line {
	lines := map[string]removal.Line{}
	for _, g := range p.Sheet().Groups {
		for _, l := range g.Lines {
			lines[g.Title+"/"+l.Key] = l
		}
	}
	return lines
}

// A figure that moves with an assumed value is never called measured: with all
// values measured but one, that one is moved, and every line that moves with it
// must say assumed.
func TestOneAssumedValueMarksAllThatMovesWithIt(t *testing.T) {
	stages := []string{"bath:\n", "bath:\n  stages:\n" +
		"    - {name: rough, depth_um: 60, rate_um_per_min: 3, floor_ra_um: 1, levelling_depth_um: 50, voltage_v: 280, current_density_a_per_cm2: 0.3}\n" +
		"    - {name: fine}\n"}
	for name, swaps := range map[string][]string{
		"one bath":      nil,
		"own times":     {"exposure: shared", "exposure: own"},
		"two stages":    stages,
		"by efficiency": {"\n  rate_um_per_min:", "\n  efficiency: 0.4\n#", "\n  voltage_v:", "\n  voltage_v:"},
		"table":         {"model: classes\n", tableText},
		"layer steps":   {"model: classes\n", stairText},
		"sinusoid":      {"law: empirical", "law: sinusoid\n    wavelength_um: 90\n    polarisation_um: 5\n    gap_um: 300"},
	} {
		t.Run(name, func(t *testing.T) {
			r := load(t, swaps...)
			n := len(quantities(reflect.ValueOf(r)))
			require.Greater(t, n, 40)
			quiet := removal.Options{Quiet: true}
			before := sheetLines(plan(t, r, quiet))
			moved := 0
			for i := range n {
				c := r.Clone()
				qs := quantities(reflect.ValueOf(c))
				for _, q := range qs {
					q.Source = recipe.Measured
				}
				qs[i].Source = recipe.Assumed
				qs[i].Value *= 0.97
				for key, after := range sheetLines(plan(t, c, quiet)) {
					if after.Value != before[key].Value {
						moved++
						require.Equal(t, recipe.Assumed, after.Source, "%s moves with value %d of the recipe, %v", key, i, *qs[i])
					}
				}
			}
			require.Greater(t, moved, 100)
		})
	}
}
