package report

import (
	"math"
	"path/filepath"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset"
	"skinstock/region"
	"skinstock/report/sheet"
)

// maxPins is how many findings are marked on the pictures: more would cover the part.
const maxPins = 12

// SheetInput returns what the preview pictures show of a result. Pins carry the
// numbers of the findings as PinNumbers gives them; the worst of them is a place
// worth a section.
func SheetInput(res *offset.Result, doc *Document) sheet.Input {
	in := SkinsInput(res)
	in.Part, in.Recipe, in.Version, in.Assumed = filepath.Base(res.Part.Name), res.Plan.Recipe.Name, doc.Tool.Version, len(doc.Recipe.Assumed) > 0
	in.Allowance, in.NominalOf, in.FinishedRa = res.Allowance, res.NominalOf, finishedRa(res)
	if res.Proof != nil {
		in.Deviation = res.Proof.FacetDeviation
	}
	if res.Exposed != nil {
		in.Exposure = res.Exposed.Field.PerFacet
	}
	switch {
	case res.Closed != nil:
		in.Finished, in.FinishedBy = res.Closed.Finished, "by the field"
		in.FinishOff = res.Closed.SignedMM
	case res.Proof != nil:
		in.Finished, in.FinishedBy = evenFinish(res), "even removal"
	}
	for i, n := range PinNumbers(doc.Findings) {
		if n == 0 {
			continue
		}
		f := doc.Findings[i]
		in.Pins = append(in.Pins, sheet.Pin{Number: n, At: f.AtMM.Vector(), Strong: f.Severity == finding.Error})
		if f.Severity > finding.Info && in.Spots == nil {
			in.Spots = append(in.Spots, sheet.Spot{Title: "finding " + f.Code, At: f.AtMM.Vector()})
		}
	}
	return in
}

// SkinsInput returns of SheetInput what sheet.SkinsPicture shows.
func SkinsInput(res *offset.Result) sheet.Input {
	in := sheet.Input{Nominal: res.Nominal, Grown: res.Grown, Topo: res.Topo, Skins: res.Sorting.Skin, BuildDir: res.BuildDir}
	if k := res.Kept; k != nil {
		in.Keep = make([]sheet.Keep, len(k.Zone))
		for f, z := range k.Zone {
			switch {
			case z == region.NoZone:
			case k.Zones[z].Mask():
				in.Keep[f] = sheet.Masked
			default:
				in.Keep[f] = sheet.Stocked
			}
		}
	}
	return in
}

// evenFinish is the surface that a removal of the same depth everywhere leaves,
// as far as the proof measured it: the nominal surface moved at every vertex by
// the stock that is over or missing there.
func evenFinish(res *offset.Result) *mesh.Mesh {
	m := res.Nominal.Clone()
	normal := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		n := m.AreaNormal(f)
		for _, v := range t {
			normal[v] = normal[v].Add(n)
		}
	}
	for v, d := range res.Proof.VertexDeviation {
		if l := normal[v].Norm(); l > 0 {
			m.Vertices[v] = m.Vertices[v].Add(normal[v].Mul(d / l))
		}
	}
	return m
}

// PinNumbers numbers the findings that have a place, worst first, from 1; the
// others, and those beyond what pictures can carry, have 0.
func PinNumbers(fs []Finding) []int {
	out := make([]int, len(fs))
	next := 1
	for i, f := range fs {
		if f.AtMM != nil && next <= maxPins {
			out[i] = next
			next++
		}
	}
	return out
}

// finishedRa is the roughness expected on every facet after the bath, um.
func finishedRa(res *offset.Result) []float64 {
	ra := make([]float64, len(res.Nominal.Facets))
	for f := range ra {
		ra[f] = res.Place(f).FinishedRaUM
	}
	return ra
}

// inclination is a facet's angle to the platform in degrees, 0 to 90.
func inclination(a s1.Angle) float64 { return math.Min(a.Degrees(), 180-a.Degrees()) }
