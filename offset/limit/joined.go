package limit

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Two facing places of one body may be the walls of a gap that must stay open,
// as of a slot or a bore, or those of a groove or crotch that may fill up from
// its valley: there the grown surface only has its valley higher, and no stock
// is missing. What tells them apart is the line that a plane through both places
// cuts from the surface.
const (
	// round is how far from the centre of the ball between the places, in gaps, a
	// section through a bore runs: half a gap in a round one, 0.71 in a square one, and
	// one in the valley of a groove of 60 degrees.
	round = 0.85
	// tapered is the most that may be left of a groove's width at three quarters of its
	// depth: one quarter in a V, all in a slot, half when the floor has a third.
	tapered = 0.55
	// Grooves deeper than half of deepGaps widths, and half of deepMost times the width
	// that matters, are gaps however they taper.
	deepGaps, deepMost = 12, 4
	// leastTaper is the walls' angle in radians below which they do not come together.
	leastTaper = 0.05
	// turns is the number of sections tried, evenly turned about the line between
	// the places; the first has the depth of a groove with straight walls in it. In the
	// crotch of round struts a section more than some 30 degrees off runs past it.
	turns = 8
)

// walker follows plane sections over the surface.
type walker struct {
	m    *mesh.Mesh
	topo *mesh.Topology
	path []r3.Vector // of the last walk
}

// wall is a place of the surface: on facet f with unit normal n.
type wall struct {
	at r3.Vector
	f  int32
	n  r3.Vector
}

// joined tells whether two places of one body, a gap apart, are walls of a groove
// that may fill up. most is the width below which gaps matter.
func (w *walker) joined(p, q wall, gap, most float64) bool {
	q.at = w.inside(q.at, q.f, most)
	chord := q.at.Sub(p.at)
	c := chord.Norm()
	if c == 0 {
		return true
	}
	chord = chord.Mul(1 / c)
	up := p.n.Add(q.n)
	up = up.Sub(chord.Mul(up.Dot(chord)))
	limit := max(deepGaps*gap, deepMost*most)
	if up.Norm() < leastTaper { // walls that stand parallel do not come together
		up, limit = chord.Ortho(), most
	}
	up = up.Normalize()
	side := chord.Cross(up)
	var sections [turns]r3.Vector // their normals
	shortest := math.Inf(1)
	for k := range sections {
		sin, cos := math.Sincos(float64(k) * math.Pi / turns)
		sections[k] = up.Mul(-sin).Add(side.Mul(cos))
		for way := range 2 {
			length := w.walk(p, q, sections[k], way, min(limit, shortest))
			if length < shortest && (length <= most || w.tapers(length, gap)) {
				shortest = length
			}
		}
	}
	return shortest <= most/2 || !math.IsInf(shortest, 1) && !w.closed(p, q, sections[:], gap)
}

// closed tells whether a section runs closely round the ball that touches p and
// q, as in a bore.
func (w *walker) closed(p, q wall, sections []r3.Vector, gap float64) bool {
	centre := p.at.Add(p.n.Mul(gap / 2))
	close := func(across r3.Vector, way int) bool {
		if math.IsInf(w.walk(p, q, across, way, math.Pi*gap), 1) {
			return false
		}
		for _, x := range w.path {
			if x.Distance(centre) > round*gap {
				return false
			}
		}
		return true
	}
	for _, across := range sections {
		if close(across, 0) && close(across, 1) {
			return true
		}
	}
	return false
}

// inset is how far towards a facet's centroid a place on its edge is moved, for
// the section through it to pass the facet: as a share of the way there, but no
// more than that share of the width that matters.
const inset = 0.01

func (w *walker) inside(q r3.Vector, g int32, most float64) r3.Vector {
	a, b, c := w.m.Triangle(int(g))
	in := a.Add(b).Add(c).Mul(1.0 / 3).Sub(q)
	return q.Add(in.Mul(inset * min(1, most/in.Norm())))
}

// walk follows the section from p to q, by the first or the second way, and
// returns its length, infinite when it is longer than limit or never comes to q.
func (w *walker) walk(from, to wall, across r3.Vector, way int, limit float64) float64 {
	p, f, q, g := from.at, from.f, to.at, to.f
	w.path = append(w.path[:0], p)
	h := mesh.None
	for k := int32(0); k < 3; k++ {
		if w.cut(3*f+k, p, across) {
			if h = 3*f + k; way == 0 {
				break
			}
		}
	}
	length := 0.0
	for last := p; h != mesh.None; {
		x := w.at(h, p, across)
		length += x.Distance(last)
		w.path = append(w.path, x)
		if last = x; length > limit {
			break
		}
		t := w.topo.Twin[h]
		if t == mesh.None || t/3 == f {
			break
		}
		if t/3 == g {
			w.path = append(w.path, q)
			return length + x.Distance(q)
		}
		if h = mesh.Next(t); !w.cut(h, p, across) {
			h = mesh.Prev(t)
		}
	}
	return math.Inf(1)
}

// cut tells whether the section passes between the ends of half-edge h. The
// plane itself counts as one side, so that of three edges none or two are cut.
func (w *walker) cut(h int32, p, across r3.Vector) bool {
	return (w.height(w.m.Origin(h), p, across) >= 0) != (w.height(w.m.Target(h), p, across) >= 0)
}

func (w *walker) height(v int32, p, across r3.Vector) float64 {
	return w.m.Vertices[v].Sub(p).Dot(across)
}

// at returns where the section passes half-edge h, which it cuts.
func (w *walker) at(h int32, p, across r3.Vector) r3.Vector {
	a, b := w.m.Vertices[w.m.Origin(h)], w.m.Vertices[w.m.Target(h)]
	s, t := w.height(w.m.Origin(h), p, across), w.height(w.m.Target(h), p, across)
	return a.Add(b.Sub(a).Mul(s / (s - t)))
}

// tapers tells whether the walls of the last walk, a gap apart at its ends, come together.
func (w *walker) tapers(length, gap float64) bool {
	const depth = 3.0 / 8 // of the way from either end: three quarters of the depth
	return w.along(depth*length).Distance(w.along((1-depth)*length)) <= tapered*gap
}

// along returns the place on the last walk at a distance from its start.
func (w *walker) along(d float64) r3.Vector {
	for i := 1; i < len(w.path); i++ {
		step := w.path[i].Distance(w.path[i-1])
		if d <= step && step > 0 {
			return w.path[i-1].Add(w.path[i].Sub(w.path[i-1]).Mul(d / step))
		}
		d -= step
	}
	return w.path[len(w.path)-1]
}
