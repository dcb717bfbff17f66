package remesh

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
)

// edge is an edge of the grid that the surface cuts.
type edge struct {
	at       key // its lower end
	axis     int
	outwards bool // its lower end lies in the metal
	point    r3.Vector
	normal   r3.Vector
	facet    int32 // of the part, that decides there
}

func compareEdges(a, b edge) int {
	if c := cmp.Compare(a.at, b.at); c != 0 {
		return c
	}
	return a.axis - b.axis
}

// cutEdges lists the cut edges and finds where the surface cuts them.
func (g *grid) cutEdges(ctx context.Context) error {
	for _, c := range g.cells {
		for e := range 12 {
			if c.cut(e) {
				at, axis := c.edge(e)
				// Of the four cells around it the one above it lists it: all are there.
				if at == c.at {
					g.edges = append(g.edges, edge{at: at, axis: axis, outwards: c.in(ends[e][0])})
				}
			}
		}
	}
	slices.SortFunc(g.edges, compareEdges)
	return bvh.InChunks(ctx, len(g.edges), g.workers, func(lo, hi int) error {
		hint := bvh.NoHint
		for i := lo; i < hi; i++ {
			g.cutEdge(&g.edges[i], &hint)
		}
		return nil
	})
}

// mostSteps bounds the search for the zero on an edge: halving alone gets to 1e-9 of it in 30.
const mostSteps = 40

// cutEdge finds the zero on an edge by false position, safe-guarded (the Illinois rule), and the
// normal there. Where the level jumps it ends at the jump.
func (g *grid) cutEdge(e *edge, hint *int) {
	a, b := g.place(e.at), g.place(e.at+step(e.axis))
	pa, pb := g.l.at(a, *hint), g.l.at(b, *hint)
	s, t := 0.0, 1.0
	va, vb := pa.value, pb.value
	best := pa
	if math.Abs(vb) < math.Abs(va) {
		best = pb
	}
	at, side := s, 0
	for n := 0; n < mostSteps && t-s > 1e-10; n++ {
		x := s + (t-s)*va/(va-vb)
		if n%3 == 2 || !(x > s && x < t) {
			x = (s + t) / 2
		}
		p := g.l.at(a.Add(b.Sub(a).Mul(x)), best.facet)
		at, best = x, p
		if math.Abs(p.value) < 1e-11 {
			break
		}
		if (p.value < 0) == (pa.value < 0) {
			s, va = x, p.value
			if side == 1 {
				vb /= 2
			}
			side = 1
		} else {
			t, vb = x, p.value
			if side == 2 {
				va /= 2
			}
			side = 2
		}
	}
	*hint = best.facet
	e.point, e.normal, e.facet = a.Add(b.Sub(a).Mul(at)), best.normal, int32(best.facet)
}

// points finds the sheets of every cell and the point of each.
func (g *grid) points(ctx context.Context) error {
	g.sheets, g.first = make([][12]int8, len(g.cells)), make([]int32, len(g.cells)+1)
	count := make([]int8, len(g.cells))
	err := bvh.InChunks(ctx, len(g.cells), g.workers, func(lo, hi int) error {
		for i := lo; i < hi; i++ {
			g.sheets[i], count[i] = g.cells[i].parted(g.flips(i))
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, n := range count {
		g.first[i+1] = g.first[i] + int32(n)
	}
	g.point = make([]r3.Vector, g.first[len(g.cells)])
	return bvh.InChunks(ctx, len(g.cells), g.workers, func(lo, hi int) error {
		for i := lo; i < hi; i++ {
			for s := range count[i] {
				g.point[g.first[i]+int32(s)] = g.fit(i, s)
			}
		}
		return nil
	})
}

const (
	// blunt is how far off the surface, in cells, the best point in a cell may be
	// without looking for a better one outside: further off, a sharp edge would be cut.
	blunt = 0.01
	// pulls is how often a point that is off the surface is pulled onto it.
	pulls = 3
)

// fit returns the point of a cell's sheet: of those that fit the tangent planes on
// its edges, the one nearest to the surface, pulled onto it. On
// rough surface planes may meet far from it.
func (g *grid) fit(i int, sheet int8) r3.Vector {
	var q quadric
	hint := bvh.NoHint
	for e, s := range g.sheets[i] {
		if s == sheet {
			at, axis := g.cells[i].edge(e)
			j, _ := slices.BinarySearchFunc(g.edges, edge{at: at, axis: axis}, compareEdges)
			q.add(g.edges[j].point, g.edges[j].normal)
			hint = int(g.edges[j].facet)
		}
	}
	lo := g.place(g.cells[i].at)
	hi := lo.Add(r3.Vector{X: g.h, Y: g.h, Z: g.h})
	best := probe{value: math.Inf(1)}
	var at r3.Vector
	try := func(x r3.Vector) bool {
		if p := g.l.at(x, hint); math.Abs(p.value) < math.Abs(best.value) {
			best, at = p, x
		}
		return math.Abs(best.value) <= g.tol
	}
	q.candidates(lo, hi, false, try)
	if math.Abs(best.value) > blunt*g.h {
		q.candidates(lo, hi, true, try)
	}
	for n := 0; n < pulls && math.Abs(best.value) > g.tol; n++ {
		try(at.Sub(best.normal.Mul(best.value)))
	}
	return at
}
