package bvh

import (
	"context"
	"slices"
)

// upwards calls do for every node after the nodes below it, side by side on up
// to the given number of goroutines.
func (t *Tree) upwards(workers int, do func(node int32)) {
	parts, above := t.parts(max(1<<10, len(t.nodes)/64))
	_ = inChunks(context.Background(), len(parts), 1, workers, func(p, _ int) error {
		for i := parts[p][1] - 1; i >= parts[p][0]; i-- { // children come after their parents
			do(i)
		}
		return nil
	})
	for _, i := range slices.Backward(above) {
		do(i)
	}
}

// parts returns ranges of no more than so many nodes, each a node with all that is
// below it, and the nodes above them, ascending.
func (t *Tree) parts(most int) (ranges [][2]int32, above []int32) {
	var divide func(from, to int32)
	divide = func(from, to int32) {
		if int(to-from) <= most {
			ranges = append(ranges, [2]int32{from, to})
			return
		}
		above = append(above, from)
		second := t.nodes[from].child[1]
		if second < 0 { // a leaf
			second = to
		}
		if t.nodes[from].child[0] >= 0 {
			divide(from+1, second)
		}
		if second < to {
			divide(second, to)
		}
	}
	if len(t.nodes) > 0 {
		divide(0, int32(len(t.nodes)))
	}
	return ranges, above
}
