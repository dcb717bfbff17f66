package remesh

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/sym3"
)

// quadric is the sum of the squared distances to planes.
type quadric struct {
	p, n [12]r3.Vector
	len  int
}

func (q *quadric) add(p, n r3.Vector) {
	q.p[q.len], q.n[q.len] = p, n
	q.len++
}

// free are the shares of the largest eigenvalue below which directions count as
// free: planes that differ by a degree make an edge, unless that edge is elsewhere.
var free = [...]float64{1e-4, 1e-2, 0.1}

// poke is how far outside its cell, in cells, a point may lie: a sharp edge may
// look out of a cell so little that no corner of the next one lies in it.
const poke = 0.5

// candidates calls try with points that may fit the planes best, in the box from lo to hi or
// a little outside it, until try has enough: those with the least sum in
// fewer and fewer directions, near the mean of the planes' points (Ju et al. 2002, section
// 2.2), the one with the least sum in the box, and the mean.
func (q *quadric) candidates(lo, hi r3.Vector, outside bool, try func(x r3.Vector) (enough bool)) {
	mid, a, b := q.sums()
	if outside {
		beyond := hi.Sub(lo).Mul(poke)
		lo, hi = lo.Sub(beyond), hi.Add(beyond)
	}
	value, vector := a.Eigen()
	for _, cut := range free {
		x, along := solve(value, vector, b, cut)
		if y, ok := within(mid.Add(x), along, lo, hi); ok && try(y) {
			return
		}
	}
	if !try(mid.Add(boxed(a.Rows(), b, lo.Sub(mid), hi.Sub(mid)))) && !outside {
		try(mid)
	}
}

// sums returns the mean of the planes' points, and the normal equations about it.
func (q *quadric) sums() (mid r3.Vector, a sym3.Matrix, b r3.Vector) {
	for _, p := range q.p[:q.len] {
		mid = mid.Add(p)
	}
	mid = mid.Mul(1 / float64(q.len))
	for i, n := range q.n[:q.len] {
		a.Add(n, 1)
		b = b.Add(n.Mul(n.Dot(q.p[i].Sub(mid))))
	}
	return mid, a, b
}

// solve solves the normal equations in the directions that are not free, and
// returns the free one when there is just one, as along an edge.
func solve(value [3]float64, vector [3]r3.Vector, b r3.Vector, cut float64) (x, along r3.Vector) {
	n := 0
	for k, u := range vector {
		if value[k] > cut*value[0] {
			x = x.Add(u.Mul(u.Dot(b) / value[k]))
		} else {
			n++
			along = u
		}
	}
	if n != 1 {
		along = r3.Vector{}
	}
	return x, along
}

// boxed returns the point of the box with the least sum, by one coordinate after the other.
func boxed(a [3][3]float64, b, lo, hi r3.Vector) r3.Vector {
	x := [3]float64{}
	l, h, want := [3]float64{lo.X, lo.Y, lo.Z}, [3]float64{hi.X, hi.Y, hi.Z}, [3]float64{b.X, b.Y, b.Z}
	pull := 1e-6 * (a[0][0] + a[1][1] + a[2][2]) // towards the mean, where nothing else decides
	for range 60 {
		for k := range 3 {
			s := want[k]
			for c := range 3 {
				if c != k {
					s -= float64(a[k][c] * x[c])
				}
			}
			x[k] = min(max(s/(a[k][k]+pull), l[k]), h[k])
		}
	}
	return r3.Vector{X: x[0], Y: x[1], Z: x[2]}
}

// within returns the point nearest to x on the line along u, just x for none, that lies in the box.
func within(x, u, lo, hi r3.Vector) (r3.Vector, bool) {
	from, to := math.Inf(-1), math.Inf(1)
	for _, c := range [3][4]float64{{x.X, u.X, lo.X, hi.X}, {x.Y, u.Y, lo.Y, hi.Y}, {x.Z, u.Z, lo.Z, hi.Z}} {
		if c[1] == 0 {
			if c[0] < c[2] || c[0] > c[3] {
				return x, false
			}
			continue
		}
		s, t := (c[2]-c[0])/c[1], (c[3]-c[0])/c[1]
		from, to = max(from, min(s, t)), min(to, max(s, t))
	}
	if from > to {
		return x, false
	}
	return x.Add(u.Mul(min(max(0, from), to))), true
}
