package clean

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/sym3"
)

// places returns where the two ends of half-edge h could be joined: halfway,
// and where the planes of the facets around are missed least (Garland and
// Heckbert, 1997), both as single precision, which is what a file can hold.
func (s *surface) places(h int32, chord float64) [2]r3.Vector {
	mid := s.Vertices[s.origin(h)].Add(s.Vertices[s.target(h)]).Mul(0.5)
	best := mid
	var q quadric
	for _, start := range [2]int32{h, s.twin[h]} {
		for c := start; ; {
			if f := c / 3; s.height(f) > chord { // a lower one has no plane to speak of
				n := s.AreaNormal(int(f))
				a, _, _ := s.Triangle(int(f))
				q.add(n.Normalize(), a.Sub(mid), n.Norm())
			}
			if c = s.around(c); c == start {
				break
			}
		}
	}
	// Farther off than the edge is long, the planes are all but parallel.
	if d := q.least(); d.Norm() <= s.Vertices[s.origin(h)].Sub(s.Vertices[s.target(h)]).Norm() {
		best = mid.Add(d)
	}
	return [2]r3.Vector{single(mid), single(best)}
}

func single(p r3.Vector) r3.Vector {
	return r3.Vector{X: float64(float32(p.X)), Y: float64(float32(p.Y)), Z: float64(float32(p.Z))}
}

// quadric sums the squared distances to planes.
type quadric struct {
	m      sym3.Matrix
	b      r3.Vector
	weight float64
}

// add adds the plane through p with unit normal n.
func (q *quadric) add(n, p r3.Vector, weight float64) {
	q.m.Add(n, weight)
	q.b = q.b.Add(n.Mul(weight * n.Dot(p)))
	q.weight += weight
}

// least returns the point of least sum. A small pull towards the origin decides
// where the planes leave the choice, as on a flat or along a straight edge.
func (q *quadric) least() r3.Vector {
	const pull = 1e-3
	return q.m.Solve(pull*q.weight, q.b)
}

// fan is what one end of an edge sees: the half-edges around it, and in a view
// their targets.
type fan struct {
	centre r3.Vector
	rim    []r3.Vector
}

// mergeMove is collapseMove for joining both ends of half-edge h at p.
func (s *surface) mergeMove(h int32, p r3.Vector, limit float64) (step float64, ok bool) {
	before := max(s.movedAround(s.origin(h)), s.movedAround(s.target(h)))
	var normal r3.Vector
	lowest := math.Inf(1)
	var rim []int32 // around both, in order
	for _, start := range [2]int32{h, s.twin[h]} {
		for c := start; ; {
			normal = normal.Add(s.AreaNormal(int(c / 3)))
			lowest = min(lowest, s.height(c/3))
			c = s.around(c)
			if c == start {
				break
			}
			rim = append(rim, s.target(c))
		}
		rim = rim[:len(rim)-1] // the last is the other end's first
	}
	w, ok := newView(normal)
	if !ok {
		return 0, false
	}
	seen := make([]r3.Vector, len(rim))
	for i, r := range rim {
		seen[i] = w.see(s.Vertices[r].Sub(p))
	}
	for i := range rim {
		q, r := s.Vertices[rim[i]], s.Vertices[rim[(i+1)%len(rim)]]
		n := areaNormal(p, q, r)
		if n.Dot(w.n) < minFacing*n.Norm() || heightOf(p, q, r) < lowest {
			return 0, false
		}
	}
	old := [2]fan{s.fanOf(h, w, p), s.fanOf(s.twin[h], w, p)}
	d := math.Inf(1) // of p from the old facets
	over := 0.0
	for i, start := range [2]int32{h, s.twin[h]} {
		for c := start; ; {
			f := c / 3
			n := s.AreaNormal(int(f))
			if s.height(f) > limit && n.Dot(w.n) < minFacing*n.Norm() {
				return 0, false
			}
			a, b, e := s.Triangle(int(f))
			d = min(d, distanceToTriangle(p, a, b, e))
			if c = s.around(c); c == start {
				break
			}
		}
		rimI := old[i].rim
		for j := range rimI {
			if z, in := heightAtOrigin(old[i].centre, rimI[j], rimI[(j+1)%len(rimI)]); in {
				over = max(over, math.Abs(z))
			}
		}
	}
	d = max(d, over)
	for _, o := range old {
		d = max(d, offFan(o.centre, seen))
		for _, a := range o.rim {
			if before+d > limit {
				return d, false
			}
			for _, b := range seen {
				if a != b {
					d = max(d, crossing(o.centre, a, r3.Vector{}, b))
				}
			}
		}
	}
	return d, before+d <= limit
}

// fanOf returns the fan around the origin of h, relative to p in the view.
func (s *surface) fanOf(h int32, w view, p r3.Vector) fan {
	f := fan{centre: w.see(s.Vertices[s.origin(h)].Sub(p))}
	for c := h; ; {
		f.rim = append(f.rim, w.see(s.Vertices[s.target(c)].Sub(p)))
		if c = s.around(c); c == h {
			return f
		}
	}
}

// offFan returns how far q is from the fan of triangles around the origin:
// the larger of the distance and the difference of heights.
func offFan(q r3.Vector, rim []r3.Vector) float64 {
	d, over := math.Inf(1), 0.0
	for i, a := range rim {
		b := rim[(i+1)%len(rim)]
		d = min(d, distanceToTriangle(q, r3.Vector{}, a, b))
		if z, in := heightAtOrigin(q.Mul(-1), a.Sub(q), b.Sub(q)); in {
			over = max(over, math.Abs(z))
		}
	}
	return max(d, over)
}
