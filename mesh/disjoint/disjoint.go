// Package disjoint keeps sets of numbers that grow together: things that touch,
// joined pair by pair. The lowest member of a set stands for it, so that the
// result does not depend on the order of the pairs.
package disjoint

// Sets are the sets of the numbers 0 to len-1: each leads towards its lowest fellow.
type Sets []int32

// New returns n sets of one number each.
func New(n int) Sets {
	s := make(Sets, n)
	for i := range s {
		s[i] = int32(i)
	}
	return s
}

// Find returns the number that stands for the set of i.
func (s Sets) Find(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]] // halves the way for the next time
		i = s[i]
	}
	return i
}

// Join makes one set of those of i and j.
func (s Sets) Join(i, j int32) {
	i, j = s.Find(i), s.Find(j)
	s[max(i, j)] = min(i, j)
}

// Sparse are sets of few numbers out of many; one that was never joined is a
// set of its own.
type Sparse map[int32]int32

// Find returns the number that stands for the set of i.
func (s Sparse) Find(i int32) int32 {
	root := i
	for p, ok := s[root]; ok && p != root; p, ok = s[root] {
		root = p
	}
	for i != root {
		s[i], i = root, s[i]
	}
	return root
}

// Join makes one set of those of i and j.
func (s Sparse) Join(i, j int32) {
	i, j = s.Find(i), s.Find(j)
	s[max(i, j)] = min(i, j)
}
