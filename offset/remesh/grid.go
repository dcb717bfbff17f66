package remesh

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// key is the place of a cell or a grid point: 21 bits each of x, y and z.
type key uint64

const (
	keyBits = 21
	keyMask = 1<<keyBits - 1
)

func (k key) xyz() (x, y, z int) {
	return int(k & keyMask), int(k >> keyBits & keyMask), int(k >> (2 * keyBits))
}

// step is the key's difference along an axis.
func step(axis int) key { return 1 << (keyBits * axis) }

// corner returns the key of corner c of a cell: bit 0 x, bit 1 y, bit 2 z.
func (k key) corner(c int) key { return k.child(c, 0) }

// child returns the key of the eighth at corner c, of 2^bits cells, of a cube.
func (k key) child(c, bits int) key {
	return k + (key(c&1)*step(0)+key(c>>1&1)*step(1)+key(c>>2)*step(2))<<bits
}

// cell is a cube of the grid through which the surface passes.
type cell struct {
	at   key
	mask uint8 // its corners in the metal
}

type grid struct {
	l       *level
	o       r3.Vector
	h       float64
	tol     float64 // how far a point may be off the planes it is fitted to
	workers int
	bits    int // the whole grid is a cube of 2^bits cells

	cells  []cell        // ascending
	index  map[key]int32 // of the cells; only looked up
	edges  []edge        // ascending
	first  []int32       // of each cell's points
	sheets [][12]int8    // per cell: the sheet that an edge belongs to
	point  []r3.Vector
}

// blockBits is log2 of the side of the blocks that goroutines take, in cells.
const blockBits = 4

func newGrid(l *level, h float64, opt Options) *grid {
	lo, hi := l.m.Bounds()
	pad := l.most*l.mitre + 2*h
	g := &grid{l: l, h: h, tol: opt.Chord / 4, workers: opt.Workers}
	// Off the planes of the part: a coordinate of the part seldom is a coordinate of the grid.
	g.o = lo.Sub(r3.Vector{X: pad + 0.381966*h, Y: pad + 0.276393*h, Z: pad + 0.145898*h})
	d := hi.Sub(g.o)
	for g.bits = blockBits; float64(int(1)<<g.bits)*h < max(d.X, d.Y, d.Z)+pad; {
		g.bits++
	}
	return g
}

func (g *grid) place(k key) r3.Vector {
	x, y, z := k.xyz()
	return g.o.Add(r3.Vector{X: float64(x), Y: float64(y), Z: float64(z)}.Mul(g.h))
}

// steepest is the most by which the level may change over a length, beyond which cubes
// with surface in them could be passed over: 1 for a distance, and the slope of the allowance.
const steepest = 1.3

// mayPass tells whether the surface may pass through the cube of 2^bits cells at k.
func (g *grid) mayPass(k key, bits int, hint *int) bool {
	half := 0.5 * g.h * float64(int(1)<<bits)
	p := g.l.at(g.place(k).Add(r3.Vector{X: half, Y: half, Z: half}), *hint)
	*hint = p.facet
	return math.Abs(p.value) <= steepest*math.Sqrt(3)*half
}

// find finds the cells through which the surface passes: it halves cubes down to
// blocks all together, then looks through each block on its own.
func (g *grid) find(ctx context.Context) error {
	cubes := []key{0}
	for bits := g.bits; bits > blockBits && len(cubes) > 0; bits-- {
		var err error
		if cubes, err = g.halved(ctx, cubes, bits-1); err != nil {
			return err
		}
	}
	found := make([][]cell, len(cubes))
	err := g.each(ctx, len(cubes), func(i int) {
		s := &search{g: g, hint: bvh.NoHint, known: make(map[key]bool)}
		s.descend(cubes[i], blockBits)
		found[i] = s.cells
	})
	if err != nil {
		return err
	}
	for _, c := range found {
		g.cells = append(g.cells, c...)
	}
	slices.SortFunc(g.cells, func(a, b cell) int { return cmp.Compare(a.at, b.at) })
	return nil
}

// halved returns those of the cubes' eighths, of 2^bits cells, through which the surface may pass.
func (g *grid) halved(ctx context.Context, cubes []key, bits int) ([]key, error) {
	pass := make([][]key, len(cubes))
	err := g.each(ctx, len(cubes), func(i int) {
		hint := bvh.NoHint
		for c := range 8 {
			if k := cubes[i].child(c, bits); g.mayPass(k, bits, &hint) {
				pass[i] = append(pass[i], k)
			}
		}
	})
	return slices.Concat(pass...), err
}

// each calls do for 0 to n-1, a few at a time for every goroutine.
func (g *grid) each(ctx context.Context, n int, do func(i int)) error {
	const share = bvh.Chunk / 4 // of a chunk, for a cube takes far longer than a point
	return bvh.InChunks(ctx, n*share, g.workers, func(lo, hi int) error {
		for i := lo / share; i < hi/share; i++ {
			do(i)
		}
		return nil
	})
}

// search looks through one block.
type search struct {
	g     *grid
	hint  int
	known map[key]bool // grid points: in the metal; only looked up
	cells []cell
}

func (s *search) descend(k key, bits int) {
	if bits == 0 {
		if c := s.look(k); c.mask != 0 && c.mask != 255 {
			s.cells = append(s.cells, c)
		}
		return
	}
	bits--
	for c := range 8 {
		if k := k.child(c, bits); s.g.mayPass(k, bits, &s.hint) {
			s.descend(k, bits)
		}
	}
}

// look returns the cell at k with the signs of its corners.
func (s *search) look(k key) cell {
	out := cell{at: k}
	for c := range 8 {
		p := k.corner(c)
		in, ok := s.known[p]
		if !ok {
			q := s.g.l.at(s.g.place(p), s.hint)
			s.hint, in = q.facet, q.value < 0
			s.known[p] = in
		}
		if in {
			out.mask |= 1 << c
		}
	}
	return out
}

// close adds the cells that a cut edge asks for and that were passed over,
// as where the level jumps.
func (g *grid) close(ctx context.Context) error {
	g.index = make(map[key]int32, len(g.cells))
	for i, c := range g.cells {
		g.index[c.at] = int32(i)
	}
	s := &search{g: g, hint: bvh.NoHint, known: make(map[key]bool)}
	for i := 0; i < len(g.cells); i++ {
		if i%bvh.Chunk == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		c := g.cells[i]
		for e := range 12 {
			if !c.cut(e) {
				continue
			}
			at, axis := c.edge(e)
			for _, n := range edgeCells(at, axis) {
				if _, ok := g.index[n]; !ok {
					g.index[n] = int32(len(g.cells))
					g.cells = append(g.cells, s.look(n))
				}
			}
		}
	}
	slices.SortFunc(g.cells, func(a, b cell) int { return cmp.Compare(a.at, b.at) })
	for i, c := range g.cells {
		g.index[c.at] = int32(i)
	}
	return nil
}

// facets joins the points of the four cells around every cut edge.
func (g *grid) facets() (*mesh.Mesh, []int32) {
	m := &mesh.Mesh{Vertices: g.point}
	var of []int32
	for _, e := range g.edges {
		cells := edgeCells(e.at, e.axis)
		var q [4]int32
		for i, k := range cells {
			c := g.index[k]
			q[i] = g.first[c] + int32(g.sheets[c][edgeIn(e.axis, i)])
		}
		if !e.outwards {
			q[1], q[3] = q[3], q[1]
		}
		if g.turn(q) {
			q = [4]int32{q[1], q[2], q[3], q[0]}
		}
		for _, t := range [2][3]int32{{q[0], q[1], q[2]}, {q[0], q[2], q[3]}} {
			if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
				m.Facets = append(m.Facets, t)
				of = append(of, e.facet)
			}
		}
	}
	return m, of
}

// turn tells whether the diagonal from 1 to 3 lies nearer to the surface than that from 0 to 2.
func (g *grid) turn(q [4]int32) bool {
	a, b, c, d := g.point[q[0]], g.point[q[1]], g.point[q[2]], g.point[q[3]]
	n := c.Sub(a).Cross(d.Sub(b))
	if bend := math.Abs(n.Dot(b.Sub(a))); bend <= 1e-6*n.Norm() {
		// Flat to a nanometre: the one that leaves the larger smallest facet, since three points may lie on one edge.
		area := func(p, q, r r3.Vector) float64 { return q.Sub(p).Cross(r.Sub(p)).Dot(n) }
		return min(area(b, c, d), area(d, a, b)) > min(area(a, b, c), area(a, c, d))
	}
	return math.Abs(g.l.at(b.Add(d).Mul(0.5), bvh.NoHint).value) < math.Abs(g.l.at(a.Add(c).Mul(0.5), bvh.NoHint).value)
}
