package bvh

import (
	"context"
	"math"
	"sync"

	"github.com/golang/geo/r3"
)

// fanTol is the share of the lengths by which a determinant must stand off zero
// to have its sign for certain: the differences carry 2^-53 each and the terms a
// few roundings more.
const fanTol = 1e-12

// fans are the facets around each vertex, by their numbers in the leaves' order.
type fans struct {
	start []int32 // of each vertex, one more than there are
	at    []int32 // corners, 3 * place + corner
}

type lazyFans struct {
	once sync.Once
	*fans
}

func fansOf(tri [][3]int32, vertices int) *fans {
	f := &fans{start: make([]int32, vertices+1), at: make([]int32, 3*len(tri))}
	for _, w := range tri {
		f.start[w[0]]++
		f.start[w[1]]++
		f.start[w[2]]++
	}
	sum := int32(0)
	for v, n := range f.start {
		sum += n
		f.start[v] = sum
	}
	// Each start moves down from its end as its corners are put in.
	for i := len(tri) - 1; i >= 0; i-- {
		for k := 2; k >= 0; k-- {
			v := tri[i][k]
			f.start[v]--
			f.at[f.start[v]] = int32(3*i + k)
		}
	}
	return f
}

// sharedFans returns the fans, which trees of the same facets share.
func (t *Tree) sharedFans() *fans {
	t.fan.once.Do(func() { t.fan.fans = fansOf(t.tri, len(t.v)) })
	return t.fan.fans
}

// openFans marks the vertices around which the facets certainly meet nowhere but in
// their common edges and in the vertex: seen along some direction they all face
// the viewer and go around the vertex once, so none covers a part of another.
func (t *Tree) openFans(ctx context.Context, workers int) ([]bool, error) {
	fan := t.sharedFans()
	open := make([]bool, len(t.v))
	err := inChunks(ctx, len(open), 1<<13, workers, func(lo, hi int) error {
		var arms []fanArm
		for v := lo; v < hi; v++ {
			arms = arms[:0]
			o := t.v[v]
			var n r3.Vector
			for _, c := range fan.at[fan.start[v]:fan.start[v+1]] {
				w, k := &t.tri[c/3], c%3
				arm := fanArm{first: w[(k+1)%3], last: w[(k+2)%3], a: t.v[w[(k+1)%3]].Sub(o), b: t.v[w[(k+2)%3]].Sub(o)}
				arm.n = arm.a.Cross(arm.b)
				n = n.Add(arm.n)
				arms = append(arms, arm)
			}
			open[v] = onceAround(arms, n)
		}
		return nil
	})
	return open, err
}

// fanArm is a facet seen from one of its corners.
type fanArm struct {
	first, last int32     // numbers of the next corner and the one after
	a, b        r3.Vector // to them
	n           r3.Vector // a x b
}

// onceAround tells, with certainty when it says true, that seen along n the
// facets all turn the same way around their common corner, once altogether.
func onceAround(arms []fanArm, n r3.Vector) bool {
	nn := n.Norm2()
	// Across n; turns are counted where the facets cross the half-line that it cuts off.
	across := r3.Vector{X: n.Y, Y: -n.X}
	if math.Abs(n.Z) > math.Abs(n.X) {
		across = r3.Vector{Y: n.Z, Z: -n.Y}
	}
	turns := 0
	for i := range arms {
		f := &arms[i]
		d := n.Dot(f.n)
		if !(d > 0 && d*d > fanTol*fanTol*nn*f.a.Norm2()*f.b.Norm2()) {
			return false
		}
		if across.Dot(f.a) < 0 && across.Dot(f.b) >= 0 {
			turns++
		}
	}
	return turns == 1 && closedFan(arms)
}

// closedFan tells whether each facet begins where just one other ends.
func closedFan(arms []fanArm) bool {
	for i := range arms {
		n := 0
		for j := range arms {
			if arms[j].last == arms[i].first {
				n++
			}
		}
		if n != 1 {
			return false
		}
	}
	return true
}
