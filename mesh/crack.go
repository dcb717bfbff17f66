package mesh

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/disjoint"
)

// How wide a crack may be.
const (
	// Coordinates were rounded to float32, often twice, and computed with some
	// loss before: four units in the last place of the largest coordinate.
	noiseULPs = 4

	// Cracks wider than this share of the part's diagonal are left to the
	// author of the file: 10 um on a part of 100 mm, a third of a layer.
	crackShare = 1e-4

	// Beyond the noise two vertices are joined only when they are this many
	// times closer than the shortest edge at either, so no feature folds up.
	crackPerEdge = 0.25

	// Each round allows cracks so many times wider than the last, so that what
	// fits closely is closed first and is no candidate for wider cracks any more.
	crackStep = 4

	// Work allowed before cracks are given up, in points and cells looked at:
	// a cracked surface needs some tens an open edge, a heap of loose facets
	// would need the square of its size.
	crackWork     = 100
	crackWorkBase = 1 << 20
)

// rounding returns the spacing of float32 numbers at the largest coordinate,
// mm. Points closer than that cannot be told apart all over the part.
func (m *Mesh) rounding() float64 {
	lo, hi := m.Bounds()
	return math.Ldexp(max(math.Abs(lo.X), math.Abs(lo.Y), math.Abs(lo.Z), math.Abs(hi.X), math.Abs(hi.Y), math.Abs(hi.Z)), -23)
}

// autoWeldTol returns the widest crack to close on a part of this size, mm.
func (m *Mesh) autoWeldTol() float64 {
	lo, hi := m.Bounds()
	return crackShare * hi.Sub(lo).Norm()
}

// closeCracks joins the sides of cracks, the narrowest first: vertices at open
// edges that lie within the tolerance of each other become one, and vertices at
// open edges that lie on another open edge are put into it. A closed body has
// no open edge, so nothing of it moves. It tells whether anything changed.
func (b *builder) closeCracks() (any bool) {
	if b.topo.OpenEdges == 0 || b.opt.WeldTolMM < 0 {
		return false
	}
	widest := b.opt.WeldTolMM
	if widest == 0 {
		widest = b.m.autoWeldTol()
	}
	noise := min(noiseULPs*b.rounding, widest)
	for tol := noise; b.topo.OpenEdges > 0; tol = min(tol*crackStep, widest) {
		b.rep.WeldTolMM = tol
		for range 3 { // a joint may bring further vertices onto edges
			joined, hopeless := b.joinVertices(tol, noise)
			any = any || joined
			if hopeless {
				return any
			}
			split, hopeless := b.splitAtVertices(tol, widest, noise)
			any = any || split
			if hopeless {
				return any
			}
			if !joined && !split || b.topo.OpenEdges == 0 {
				break
			}
		}
		if tol >= widest {
			break
		}
	}
	return any
}

// openHalves returns the half-edges of edges with a single facet, ascending.
func (b *builder) openHalves() []int32 {
	var open []int32
	b.m.eachEdge(func(e []edgeRef) {
		if len(e) == 1 {
			open = append(open, e[0].half())
		}
	})
	slices.Sort(open)
	return open
}

// endsOf returns the vertices at the ends of half-edges, ascending.
func (m *Mesh) endsOf(halves []int32) []int32 {
	v := make([]int32, 0, 2*len(halves))
	for _, h := range halves {
		v = append(v, m.Origin(h), m.Target(h))
	}
	slices.Sort(v)
	return slices.Compact(v)
}

func (m *Mesh) positions(vertices []int32) []r3.Vector {
	p := make([]r3.Vector, len(vertices))
	for i, v := range vertices {
		p[i] = m.Vertices[v]
	}
	return p
}

// vertexPair is a joint that could be made.
type vertexPair struct {
	d2   float64
	a, b int32 // places in a list of points, the point of a before that of b
}

func newVertexPair(at []r3.Vector, i, j int) vertexPair {
	if at[j].Cmp(at[i]) < 0 {
		i, j = j, i
	}
	return vertexPair{at[i].Sub(at[j]).Norm2(), int32(i), int32(j)}
}

// joinVertices joins vertices of open edges within tol, and tells whether it
// did, and whether the search had to be given up. The choice depends on where the points lie and not on their numbers:
// the closest pair first, and the point that comes first by x, y and z stays.
func (b *builder) joinVertices(tol, noise float64) (joined, hopeless bool) {
	m := b.m
	ends := m.endsOf(b.openHalves())
	at := m.positions(ends)
	limit := m.jointLimits(ends, tol, noise)
	grid := newPointGrid(at, 8*tol) // a box of 2 tol then touches two cells on average
	t := r3.Vector{X: tol, Y: tol, Z: tol}
	var pairs []vertexPair
	for i, p := range at {
		grid.inBox(p.Sub(t), p.Add(t), func(j int32) {
			if p.Cmp(at[j]) < 0 && p.Sub(at[j]).Norm() <= min(limit[i], limit[j]) {
				pairs = append(pairs, newVertexPair(at, i, int(j)))
			}
		})
		if grid.tests > crackWorkBase+crackWork*len(ends) {
			return false, true
		}
	}
	return b.join(MendCrack, ends, at, limit, pairs), false
}

// jointLimits returns, for every vertex of the list, how far it may be joined.
func (m *Mesh) jointLimits(vertices []int32, tol, noise float64) []float64 {
	place := make([]int32, len(m.Vertices))
	limit := make([]float64, len(vertices))
	for i, v := range vertices {
		place[v] = int32(i) + 1
		limit[i] = tol
	}
	for _, t := range m.Facets {
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			if place[u] == 0 && place[v] == 0 {
				continue
			}
			d := max(noise, crackPerEdge*m.Vertices[u].Sub(m.Vertices[v]).Norm())
			if i := place[u]; i > 0 {
				limit[i-1] = min(limit[i-1], d)
			}
			if i := place[v]; i > 0 {
				limit[i-1] = min(limit[i-1], d)
			}
		}
	}
	return limit
}

// join makes the joints, the closest pair first, as far as the joined points
// stay within reach of each other, and tells whether there were any.
func (b *builder) join(kind MendKind, ends []int32, at []r3.Vector, limit []float64, pairs []vertexPair) bool {
	m := b.m
	if len(pairs) == 0 {
		return false
	}
	slices.SortFunc(pairs, func(x, y vertexPair) int {
		if c := cmp.Compare(x.d2, y.d2); c != 0 {
			return c
		}
		if c := at[x.a].Cmp(at[y.a]); c != 0 {
			return c
		}
		return at[x.b].Cmp(at[y.b])
	})
	to := disjoint.New(len(ends)) // the point that each has become, or itself; not the lowest, but the first in place
	n, move := 0, 0.0
	for _, p := range pairs {
		i, j := to.Find(p.a), to.Find(p.b)
		if i == j {
			continue
		}
		d := at[i].Sub(at[j]).Norm()
		if d > min(limit[i], limit[j]) {
			continue
		}
		if at[j].Cmp(at[i]) < 0 {
			i, j = j, i
		}
		to[j] = i
		limit[i] = min(limit[i], limit[j])
		n++
		move = max(move, d)
	}
	if n == 0 {
		return false
	}
	number := make([]int32, len(m.Vertices))
	for v := range number {
		number[v] = int32(v)
	}
	first := None
	for i, v := range ends {
		r := to.Find(int32(i))
		number[v] = ends[r]
		if r != int32(i) && (first == None || v < first) {
			first = v
		}
	}
	b.rep.note(kind, n, m.Vertices[first], move)
	for f := range m.Facets {
		for k := range 3 {
			m.Facets[f][k] = number[m.Facets[f][k]]
		}
	}
	b.dropFolded()
	b.topo = m.Topology()
	return true
}

// splitAtVertices puts vertices of open edges into the open edges that they
// lie on within tol, and tells whether it did, and whether the search had to
// be given up. A vertex so close to an end of
// the edge that a wider round may yet join the two is left to that round: a
// crack that runs along its own edge looks the same.
func (b *builder) splitAtVertices(tol, widest, noise float64) (split, hopeless bool) {
	m := b.m
	open := b.openHalves()
	if len(open) == 0 {
		return false, false
	}
	ends := m.endsOf(open)
	at := m.positions(ends)
	limit := m.jointLimits(ends, widest, noise)
	length := 0.0
	for _, h := range open {
		length += m.Vertices[m.Origin(h)].Sub(m.Vertices[m.Target(h)]).Norm()
	}
	grid := newPointGrid(at, max(2*tol, length/float64(len(open))))
	t := r3.Vector{X: tol, Y: tol, Z: tol}
	var in []edgePoint
	move := 0.0
	for _, h := range open {
		u, v, w := m.Origin(h), m.Target(h), m.Origin(Prev(h))
		p, d := m.Vertices[u], m.Vertices[v].Sub(m.Vertices[u])
		l := d.Norm()
		i, _ := slices.BinarySearch(ends, u)
		k, _ := slices.BinarySearch(ends, v)
		atU, atV := limit[i], limit[k]
		had := len(in)
		// The edge in pieces no longer than a cell.
		for i, n := 0, int(math.Ceil(l/grid.cell)); i < n; i++ {
			s, e := p.Add(d.Mul(float64(i)/float64(n))), p.Add(d.Mul(float64(i+1)/float64(n)))
			grid.inBox(lower(s, e).Sub(t), upper(s, e).Add(t), func(j int32) {
				x := ends[j]
				if x == u || x == v || x == w {
					return
				}
				along := at[j].Sub(p).Dot(d) / l
				off := at[j].Sub(p).Cross(d).Norm() / l
				if off <= tol && along > max(tol, min(atU, limit[j])) && l-along > max(tol, min(atV, limit[j])) {
					in = append(in, edgePoint{h, x, along / l})
					move = max(move, off)
				}
			})
		}
		in = in[:had+len(dedupe(in[had:]))]
		if grid.tests > crackWorkBase+crackWork*len(open) {
			return false, true
		}
	}
	if len(in) == 0 {
		return false, false
	}
	b.rep.note(MendTJunction, len(in), m.Vertices[in[0].vertex], move)
	b.insertPoints(in)
	b.dropFolded()
	b.topo = m.Topology()
	return true, false
}

// dedupe leaves each vertex once in the points of one half-edge.
func dedupe(in []edgePoint) []edgePoint {
	slices.SortFunc(in, func(p, q edgePoint) int { return int(p.vertex) - int(q.vertex) })
	return slices.CompactFunc(in, func(p, q edgePoint) bool { return p.vertex == q.vertex })
}
