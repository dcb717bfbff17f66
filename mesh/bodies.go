package mesh

// Bodies returns the number of the body of every facet and how many bodies
// there are: each shell around metal is one, with the shells of the hollows in
// it. Bodies are numbered by their first facet. A shell that is open, or a
// hollow in no metal, is a body of its own.
func (m *Mesh) Bodies(topo *Topology) (of []int32, count int) {
	shells := m.Shells(topo)
	of = make([]int32, len(m.Facets))
	number := make([]int32, len(shells)) // of the body of each shell, + 1
	for s := range shells {
		root := s
		for shells[root].Closed && shells[root].VolumeMM3 < 0 && shells[root].Parent >= 0 {
			root = shells[root].Parent
		}
		if number[root] == 0 {
			count++
			number[root] = int32(count)
		}
		number[s] = number[root]
		for _, f := range shells[s].Facets {
			of[f] = number[s] - 1
		}
	}
	return of, count
}
