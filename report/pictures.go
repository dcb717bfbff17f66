package report

import (
	"path/filepath"

	"skinstock/mesh"
	"skinstock/offset"
	"skinstock/report/sheet"
)

// SheetInput returns what the preview sheets show of a result.
func SheetInput(res *offset.Result, version string) sheet.Input {
	return sheet.Input{
		Part: filepath.Base(res.Part.Name), Recipe: res.Plan.Recipe.Name, Version: version, Assumed: len(res.Plan.Recipe.AssumedValues()) > 0,
		Nominal: res.Nominal, Grown: res.Grown, Skins: res.Sorting.Skin,
		Allowance: onGrown(res.Allowance, res.NominalOf), BuildDir: res.BuildDir,
	}
}

// onGrown carries the allowance over to the facets of the grown mesh: a piece of
// a cut facet shows the mean of the whole.
func onGrown(a mesh.CornerField, nominalOf []int32) mesh.CornerField {
	if nominalOf == nil {
		return a
	}
	out := make(mesh.CornerField, len(nominalOf))
	for f, n := range nominalOf {
		c := a[n]
		mean := (c[0] + c[1] + c[2]) / 3
		out[f] = [3]float64{mean, mean, mean}
	}
	return out
}
