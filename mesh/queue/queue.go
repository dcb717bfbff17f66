// Package queue orders numbers of vertices, facets or corners by a key, for
// walks over a surface that settle the least first, as Dijkstra's.
package queue

// Entry is a number with its key.
type Entry struct {
	Key    float64
	Number int32
}

func (e Entry) before(o Entry) bool {
	if e.Key != o.Key {
		return e.Key < o.Key
	}
	return e.Number < o.Number
}

// Least gives back its entries least key first, and of equal keys the least
// number: whatever the order in which they came. It is a binary heap; its
// zero value is empty, its length that of the slice.
type Least []Entry

// Push adds an entry.
func (l *Least) Push(key float64, number int32) {
	q := append(*l, Entry{key, number})
	*l = q
	for i := len(q) - 1; i > 0; {
		up := (i - 1) / 2
		if !q[i].before(q[up]) {
			return
		}
		q[i], q[up] = q[up], q[i]
		i = up
	}
}

// Pop takes the least entry out; there must be one.
func (l *Least) Pop() Entry {
	q := *l
	top, n := q[0], len(q)-1
	q[0] = q[n]
	q = q[:n]
	*l = q
	for i := 0; ; {
		c := 2*i + 1
		if c >= n {
			return top
		}
		if c+1 < n && q[c+1].before(q[c]) {
			c++
		}
		if !q[c].before(q[i]) {
			return top
		}
		q[i], q[c] = q[c], q[i]
		i = c
	}
}
