package grow

import (
	"math"

	"github.com/golang/geo/r3"
)

// plane asks a vector d for n.d >= a.
type plane struct {
	n r3.Vector // unit
	a float64   // mm
}

const (
	// feasible is how much of the largest allowance a facet may lack before it
	// counts: far above the rounding of a well-posed intersection (1e-15), far
	// below the resolution of a written coordinate.
	feasible = 1e-10

	// settled takes the place of feasible when rounding keeps the exact search
	// from ending: a millionth of an allowance is less than a nanometre.
	settled = 1e-6

	// leastSine and leastDet are the sine between two planes, and the volume
	// spanned by three normals, below which their intersection is lost in rounding.
	leastSine = 1e-9
	leastDet  = 1e-12

	// capRounds is how often a capped vertex is improved.
	capRounds = 200
)

// outcome says how a search for the least move ended.
type outcome uint8

const (
	solved  outcome = iota
	tooLong         // the least move is longer than the limit
	noRoom          // no move satisfies all planes, or rounding hides it
)

// least returns the shortest d with n.d >= a for all planes, which lie around
// a vertex and ask for nothing below zero.
func least(ps []plane, limit float64) (r3.Vector, outcome) {
	return search(ps, limit, feasible*largest(ps))
}

// search returns the shortest d that lacks no more than tol on any plane: the
// most violated plane enters, and the shortest vector for it and the at most
// three planes that held so far is found among their intersections. Each round
// lengthens d, so the search ends, and a d beyond limit proves that the answer
// is longer still.
func search(ps []plane, limit, tol float64) (r3.Vector, outcome) {
	var b basis
	for range 4*len(ps) + 8 {
		worst := mostViolated(ps, b.d, tol)
		if worst < 0 {
			return b.d, solved
		}
		if !b.enter(&ps[worst], tol) {
			return b.d, noRoom
		}
		if b.d.Norm2() > limit*limit {
			return b.d, tooLong
		}
	}
	return b.d, noRoom
}

// largest returns the largest allowance.
func largest(ps []plane) float64 {
	var a float64
	for i := range ps {
		a = max(a, ps[i].a)
	}
	return a
}

// mostViolated returns the plane that lacks most at d, or -1 when none lacks more than tol.
func mostViolated(ps []plane, d r3.Vector, tol float64) int {
	worst := -1
	for i := range ps {
		if lack := ps[i].a - ps[i].n.Dot(d); lack > tol {
			worst, tol = i, lack
		}
	}
	return worst
}

// basis is the shortest vector for up to three planes.
type basis struct {
	d  r3.Vector
	on [3]*plane
	n  int
}

// enter replaces b by the shortest vector for its planes and p. The answer
// lies on p, since p was violated.
func (b *basis) enter(p *plane, tol float64) bool {
	best := basis{d: r3.Vector{X: math.Inf(1)}}
	norm2 := math.Inf(1)
	try := func(d r3.Vector, n int, q, r *plane) {
		if l := d.Norm2(); l < norm2 && b.holds(d, tol) {
			best, norm2 = basis{d, [3]*plane{p, q, r}, n}, l
		}
	}
	try(p.n.Mul(p.a), 1, nil, nil)
	for i := range b.n {
		if d, ok := onTwo(p, b.on[i]); ok {
			try(d, 2, b.on[i], nil)
		}
	}
	for i := range b.n {
		for j := i + 1; j < b.n; j++ {
			if d, ok := onThree(p, b.on[i], b.on[j]); ok {
				try(d, 3, b.on[i], b.on[j])
			}
		}
	}
	if best.n == 0 {
		return false
	}
	*b = best
	return true
}

// holds tells whether d satisfies the planes of b.
func (b *basis) holds(d r3.Vector, tol float64) bool {
	for _, p := range b.on[:b.n] {
		if p.a-p.n.Dot(d) > tol {
			return false
		}
	}
	return true
}

// onTwo returns the shortest vector on both planes.
func onTwo(p, q *plane) (r3.Vector, bool) {
	c := p.n.Dot(q.n)
	u := q.n.Sub(p.n.Mul(c)) // across p, towards q
	s := u.Norm()
	if s < leastSine {
		return r3.Vector{}, false
	}
	t := (q.a - float64(c*p.a)) / (s * s)
	return p.n.Mul(p.a).Add(u.Mul(t)), true
}

// onThree returns the point on three planes.
func onThree(p, q, r *plane) (r3.Vector, bool) {
	qr := q.n.Cross(r.n)
	det := p.n.Dot(qr)
	if math.Abs(det) < leastDet {
		return r3.Vector{}, false
	}
	d := qr.Mul(p.a).Add(r.n.Cross(p.n).Mul(q.a)).Add(p.n.Cross(q.n).Mul(r.a))
	return d.Mul(1 / det), true
}

// capped returns a vector no longer than limit that leaves little stock
// missing: the least sum of squared lacks, by projected gradient steps from d.
func capped(ps []plane, d r3.Vector, limit float64) r3.Vector {
	d = within(d, limit)
	step := 1 / float64(len(ps)) // the curvature is at most the number of planes
	for range capRounds {
		var grad r3.Vector
		for i := range ps {
			if lack := ps[i].a - ps[i].n.Dot(d); lack > 0 {
				grad = grad.Add(ps[i].n.Mul(lack))
			}
		}
		d = within(d.Add(grad.Mul(step)), limit)
	}
	return d
}

// within returns d shortened to limit.
func within(d r3.Vector, limit float64) r3.Vector {
	if l := d.Norm(); l > limit {
		return d.Mul(limit / l)
	}
	return d
}

// lack returns the plane that lacks most at d and by how much.
func lack(ps []plane, d r3.Vector) (worst plane, missing float64) {
	for _, p := range ps {
		if l := p.a - p.n.Dot(d); l > missing {
			worst, missing = p, l
		}
	}
	return worst, missing
}
