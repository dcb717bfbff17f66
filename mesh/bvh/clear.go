package bvh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

// togetherMost is how many facets at most are asked for together.
const togetherMost = 16

// Clear marks facets that have nothing in front of any of their places within a
// distance, of what looks at them and counts for them as in Closest: facets that lie
// together are asked for together, where they look much the same way. Others may have
// nothing there either. It uses up to the given number of goroutines; 0 takes GOMAXPROCS.
func (f *Facing) Clear(within, cos float64, workers int) []bool {
	clear := make([]bool, len(f.normal))
	runs := f.t.runs(togetherMost)
	_ = inChunks(context.Background(), len(runs), Chunk/togetherMost, workers, func(lo, hi int) error {
		for _, r := range runs[lo:hi] {
			if f.clear(r, within, cos) {
				for _, g := range f.t.id[r[0]:r[1]] {
					clear[g] = true
				}
			}
		}
		return nil
	})
	return clear
}

// clear tells whether the facets of a run of the leaves' order certainly have nothing in front of them.
func (f *Facing) clear(r [2]int32, within, cos float64) bool {
	t := f.t
	var n, p r3.Vector
	for i := r[0]; i < r[1]; i++ {
		a, b, c := t.corners(i)
		n, p = n.Add(f.normal[t.id[i]]), p.Add(a).Add(b).Add(c)
	}
	if n == (r3.Vector{}) {
		return false
	}
	n, p = n.Normalize(), p.Mul(1/float64(3*(r[1]-r[0])))
	// The places lie in a ball around p and between two planes across n, and their normals are near n.
	var size, height, turn float64
	for i := r[0]; i < r[1]; i++ {
		if own := f.normal[t.id[i]]; own != (r3.Vector{}) { // without a normal nothing has a front
			turn = max(turn, own.Sub(n).Norm())
		}
		a, b, c := t.corners(i)
		for _, q := range [...]r3.Vector{a.Sub(p), b.Sub(p), c.Sub(p)} {
			size, height = max(size, q.Norm()), max(height, math.Abs(q.Dot(n)))
		}
	}
	behind := height + within*turn // of the plane through p: in front of some place all the same
	return !f.anyBeyond(p, (size+within)*rounded, n, cos+turn*rounded, behind*rounded, func(g int) bool {
		return p.Sub(t.m.Corner(g, 0)).Dot(f.normal[g]) > -size*rounded // else it shows its back to all of them
	})
}

// rounded makes a bound safe against the roundings it came by.
const rounded = 1 + 1e-9

// runs returns the ranges of the leaves' order below the largest parts of the tree with no more than so many facets.
func (t *Tree) runs(most int32) [][2]int32 {
	var out [][2]int32
	var below func(child int32) (r [2]int32, open bool) // open: it may be part of a larger one
	below = func(child int32) (r [2]int32, open bool) {
		if child < 0 {
			r[0], r[1] = leafRange(child)
			return r, r[0] < r[1]
		}
		left, a := below(t.nodes[child].child[0])
		right, b := below(t.nodes[child].child[1])
		if a && b && right[1]-left[0] <= most {
			return [2]int32{left[0], right[1]}, true
		}
		if a {
			out = append(out, left)
		}
		if b {
			out = append(out, right)
		}
		return r, false
	}
	if r, open := below(0); open {
		out = append(out, r)
	}
	return out
}
