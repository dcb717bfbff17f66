package bvh

// marks tell which facets, and which parts of the tree, hold something marked. A nil value marks all.
type marks struct {
	at   []bool // in the leaves' order
	node []bool // a node holds a marked facet
}

func (t *Tree) marks(marked []bool, workers int) *marks {
	if marked == nil {
		return nil
	}
	m := &marks{at: make([]bool, len(t.id)), node: make([]bool, len(t.nodes))}
	for i, f := range t.id {
		m.at[i] = marked[f]
	}
	t.upwards(workers, func(i int32) {
		m.node[i] = m.has(t.nodes[i].child[0]) || m.has(t.nodes[i].child[1])
	})
	return m
}

// has tells whether anything below the child is marked.
func (m *marks) has(child int32) bool {
	if m == nil {
		return true
	}
	if child >= 0 {
		return m.node[child]
	}
	for i, end := leafRange(child); i < end; i++ {
		if m.at[i] {
			return true
		}
	}
	return false
}

func (m *marks) either(a, b int32) bool { return m == nil || m.has(a) || m.has(b) }

func (m *marks) facet(i, j int32) bool { return m == nil || m.at[i] || m.at[j] }
