package bvh

// facetBoxes holds the boxes around facets coordinate by coordinate, to compare
// eight that follow each other at once.
type facetBoxes struct {
	row int       // length of a row
	at  []float32 // three rows of least coordinates, three of greatest
}

// newFacetBoxes makes room for n boxes; rows have some to spare for what is read beyond the last.
func newFacetBoxes(n int) facetBoxes {
	return facetBoxes{row: n + lanes, at: make([]float32, 6*(n+lanes))}
}

func (f *facetBoxes) set(i int, b *bounds) {
	for k := range 3 {
		f.at[k*f.row+i], f.at[(3+k)*f.row+i] = b.lo[k], b.hi[k]
	}
}

func (f *facetBoxes) get(i int) (b bounds) {
	for k := range 3 {
		b.lo[k], b.hi[k] = f.at[k*f.row+i], f.at[(3+k)*f.row+i]
	}
	return b
}

// meeting returns a bit for each of the n boxes from number i on, up to eight, but for those that
// certainly have nothing in common with b: rounding never changes the order of coordinates.
func (f *facetBoxes) meeting(i, n int, b *bounds) uint32 {
	if hasLanes {
		return overlaps(&f.at[i], f.row, b) & (1<<n - 1)
	}
	return f.meetingEach(i, n, b)
}

// meetingEach is meeting one box at a time.
func (f *facetBoxes) meetingEach(i, n int, b *bounds) (met uint32) {
	for j := range n {
		c := f.get(i + j)
		if b.lo[0] <= c.hi[0] && c.lo[0] <= b.hi[0] && b.lo[1] <= c.hi[1] && c.lo[1] <= b.hi[1] && b.lo[2] <= c.hi[2] && c.lo[2] <= b.hi[2] {
			met |= 1 << j
		}
	}
	return met
}
