package bvh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

// fanTol is the share of the lengths by which a determinant must stand off zero
// to have its sign for certain: the differences carry 2^-53 each and the terms a
// few roundings more.
const fanTol = 1e-12

// openFans marks the vertices, in the leaves' order, around which the facets certainly meet nowhere but in
// their common edges and in the vertex: seen along some direction they all face
// the viewer and go around the vertex once, so none covers a part of another.
// Only the corners of facets that are wanted are looked at.
func (s *search) openFans(ctx context.Context, workers int) ([]bool, error) {
	t, in := s.t, s.t.Incidence()
	var ask []bool
	if s.want != nil {
		ask = make([]bool, len(t.v))
		for i, yes := range s.want.at {
			if yes {
				w := &t.tri[i]
				ask[w[0]], ask[w[1]], ask[w[2]] = true, true, true
			}
		}
	}
	open := make([]bool, len(t.v))
	err := inChunks(ctx, len(open), 1<<13, workers, func(lo, hi int) error {
		var arms []fanArm
		for i := lo; i < hi; i++ {
			if ask != nil && !ask[i] {
				continue
			}
			arms = arms[:0]
			o := t.v[i]
			var n r3.Vector
			for _, c := range in.Of(t.vid[i]) {
				w, k := &t.m.Facets[c/3], c%3
				first, last := w[(k+1)%3], w[(k+2)%3]
				arm := fanArm{first: first, last: last, a: t.m.Vertices[first].Sub(o), b: t.m.Vertices[last].Sub(o)}
				arm.n = arm.a.Cross(arm.b)
				n = n.Add(arm.n)
				arms = append(arms, arm)
			}
			open[i] = onceAround(arms, n)
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
