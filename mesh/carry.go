package mesh

// CarryFile gives m the attributes and solids of another mesh, of whose facets
// its own are pieces: facet f of m is one of facet of[f] there. Facets keep
// their order, of ascends, so a solid stays one run.
func (m *Mesh) CarryFile(from *Mesh, of []int32) {
	if from.Attributes != nil {
		m.Attributes = make([]uint16, len(of))
		for f, p := range of {
			m.Attributes[f] = from.Attributes[p]
		}
	}
	next := 0
	for _, s := range from.Solids {
		n := Solid{Name: s.Name, First: next}
		for next < len(of) && int(of[next]) < s.First+s.Count {
			next++
		}
		n.Count = next - n.First
		m.Solids = append(m.Solids, n)
	}
}
