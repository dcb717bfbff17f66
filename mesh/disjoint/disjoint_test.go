package disjoint

import (
	"testing"

	"pgregory.net/rapid"
)

// Both kinds say what a search over the pairs says: numbers are in one set when
// a chain of pairs leads from one to the other, and the lowest stands for all.
func TestSetsAgreeWithASearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "numbers")
		number := rapid.Int32Range(0, int32(n-1))
		dense, sparse := New(n), Sparse{}
		near := make([][]int32, n)
		for range rapid.IntRange(0, 60).Draw(t, "pairs") {
			i, j := number.Draw(t, "i"), number.Draw(t, "j")
			dense.Join(i, j)
			sparse.Join(i, j)
			near[i], near[j] = append(near[i], j), append(near[j], i)
		}
		lowest := make([]int32, n)
		for i := range lowest {
			lowest[i] = -1
		}
		for i := range int32(n) { // from the lowest up: what is not reached yet is the lowest of its set
			for todo := []int32{i}; len(todo) > 0; todo = todo[1:] {
				if j := todo[0]; lowest[j] < 0 {
					lowest[j] = i
					todo = append(todo, near[j]...)
				}
			}
		}
		for i := range int32(n) {
			if a, b := dense.Find(i), sparse.Find(i); a != lowest[i] || b != lowest[i] {
				t.Fatalf("%d is in the set of %d and of %d, want %d", i, a, b, lowest[i])
			}
		}
	})
}
