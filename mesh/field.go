package mesh

// CornerField is a value at every corner of every facet, linear inside a
// facet: index facet, then corner. Two facets may carry different values at a
// vertex they share, as the two sides of a sharp edge do.
type CornerField [][3]float64

// UniformPerFacet returns the field that is constant on each facet.
func UniformPerFacet(perFacet []float64) CornerField {
	c := make(CornerField, len(perFacet))
	InChunks(len(c), 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			v := perFacet[f]
			c[f] = [3]float64{v, v, v}
		}
	})
	return c
}

// At returns the value at barycentric coordinates (u, v, w) of facet f.
func (c CornerField) At(f int, u, v, w float64) float64 {
	return float64(u*c[f][0]) + float64(v*c[f][1]) + float64(w*c[f][2])
}

// Most returns the greatest value at any corner, and zero where none is greater.
func (c CornerField) Most(workers int) float64 {
	return Most(len(c), workers, func(f int) float64 { return max(c[f][0], c[f][1], c[f][2]) })
}
