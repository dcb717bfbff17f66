package field

import "skinstock/mesh"

// Mask leaves masked facets of m out of a solution: their factor is 0, and the
// others' are over the mean flux of what is left, so that their mean over its
// area is 1 again. len(masked) = facets. The solution itself has current on the
// masked faces: beside them the bath gives more than this says.
func (r *Result) Mask(m *mesh.Mesh, masked []bool) {
	var flux, area float64
	for f, a := range masked {
		if !a {
			s := m.FacetArea(f)
			flux += r.PerFacet[f] * s
			area += s
		}
	}
	if !(flux > 0) {
		return
	}
	mean := flux / area
	open := make([]bool, len(m.Vertices))
	for f, t := range m.Facets {
		if masked[f] {
			r.PerFacet[f] = 0
			continue
		}
		r.PerFacet[f] /= mean
		open[t[0]], open[t[1]], open[t[2]] = true, true, true
	}
	for v := range r.Factor {
		if r.Factor[v] /= mean; !open[v] {
			r.Factor[v] = 0
		}
	}
	r.MeanFlux *= mean
	r.masked = masked
}
