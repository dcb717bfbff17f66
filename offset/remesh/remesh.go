package remesh

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
)

// Options say how fine. Lengths are mm.
type Options struct {
	Chord      float64 // half of how far facets may cut into what is round; 0 takes 0.001
	Cell       float64 // side of the grid's cells; 0 takes what the chord asks for
	MitreLimit float64 // as in growing, in allowances; 0 takes 4
	MostCells  int     // on the surface; 0 takes DefaultMostCells
	Overlaps   bool    // bodies of the part may overlap or cross
	Workers    int     // goroutines; 0 takes GOMAXPROCS
}

// DefaultMostCells bounds the cells on the surface: each takes about 500 bytes while the mesh is made.
const DefaultMostCells = 3_000_000

// coarser is how many times as large as asked for the cells may become to stay
// below MostCells; beyond it the mesh would not be worth having.
const coarser = 4

// Result is the new surface.
type Result struct {
	Mesh      *mesh.Mesh // facets ascend by NominalOf
	NominalOf []int32    // the facet of the part near each facet
	Cell      float64    // mm
	Chord     float64    // mm: half of how far facets cut into what is round, at this cell
	Cells     int        // with surface in them
	Crossings int        // pairs of facets that met and were cut
}

// ErrEmpty says that there is no metal.
var ErrEmpty = errors.New("there is no metal to build a surface around")

// TooFineError says that the cells asked for are too many.
type TooFineError struct {
	Cell       float64 // mm, asked for
	Most       int
	PossibleMM float64 // the cell with which that many do
}

func (e *TooFineError) Error() string {
	return fmt.Sprintf("rebuilding the surface on cells of %.3g mm takes more than %d of them; cells of %.3g mm would do: allow a larger chord, or divide the part", e.Cell, e.Most, e.PossibleMM)
}

// Build returns the surface of the part grown by the allowance, mm at the
// corners of its facets. m must be closed; tree is its tree, nil to have it built.
// The result is the same for any number of workers.
func Build(ctx context.Context, m *mesh.Mesh, tree *bvh.Tree, allowance mesh.CornerField, opt Options) (*Result, error) {
	if len(allowance) != len(m.Facets) {
		return nil, fmt.Errorf("allowances for %d facets, the mesh has %d", len(allowance), len(m.Facets))
	}
	if opt.Chord == 0 {
		opt.Chord = 0.001
	}
	if opt.MitreLimit == 0 {
		opt.MitreLimit = 4
	}
	if opt.MostCells == 0 {
		opt.MostCells = DefaultMostCells
	}
	if tree == nil {
		tree = bvh.New(m, opt.Workers)
	}
	l := newLevel(m, tree, allowance, opt)
	cell, chord, err := cellOf(m, l.topo, l.most, opt)
	if err != nil {
		return nil, err
	}
	g := newGrid(l, cell, opt)
	if err := g.find(ctx); err != nil {
		return nil, err
	}
	if len(g.cells) == 0 {
		return nil, ErrEmpty
	}
	if err := g.close(ctx); err != nil {
		return nil, err
	}
	if err := g.cutEdges(ctx); err != nil {
		return nil, err
	}
	if err := g.points(ctx); err != nil {
		return nil, err
	}
	out, of := g.facets()
	r := &Result{Cell: cell, Chord: chord, Cells: len(g.cells)}
	r.Mesh, r.NominalOf = sorted(out, of)
	return r, r.clear(ctx, opt.Workers)
}

// clear cuts the facets that meet, as thin ones beside edges may.
func (r *Result) clear(ctx context.Context, workers int) error {
	r.Mesh.RoundToFloat32()
	c, err := bvh.New(r.Mesh, workers).SelfCrossings(ctx, bvh.CrossingOptions{Workers: workers, Limit: 1})
	if err != nil {
		return err
	}
	topo := r.Mesh.Topology()
	if r.Crossings = c.Total; c.Total == 0 && topo.Closed() {
		return ctx.Err()
	}
	m, rep, err := arrange.Resolve(ctx, r.Mesh, arrange.Options{Workers: workers, DropVoidsMM: r.Cell, DropVoidsMM3: math.Inf(1)})
	if err != nil {
		return fmt.Errorf("the rebuilt surface: %w", err)
	}
	of := make([]int32, len(rep.Facet))
	for f, p := range rep.Facet {
		of[f] = r.NominalOf[p]
	}
	m.Source = slices.Repeat([]int32{mesh.None}, len(of))
	r.Mesh, r.NominalOf = m, of
	return nil
}

// facetSpan is how long the edges of facets are at most, in cells, but for a few.
const facetSpan = 1.5

// cellOf returns the side of the cells, such that an edge between two points on
// what has the radius r lies at most two chords inside it.
func cellOf(m *mesh.Mesh, topo *mesh.Topology, most float64, opt Options) (cell, chord float64, err error) {
	area, radius := m.Area(), radiusOf(m, topo)+most
	if cell = opt.Cell; cell == 0 {
		cell = math.Sqrt(16*opt.Chord*radius) / facetSpan
	}
	if !(cell > 0) || math.IsInf(cell, 0) {
		return 0, 0, ErrEmpty
	}
	// A plane passes through 1 to 1.7 cells for each square of their side.
	if least := math.Sqrt(1.5 * area / float64(opt.MostCells)); cell < least {
		if opt.Cell > 0 || least > coarser*cell {
			return 0, 0, &TooFineError{cell, opt.MostCells, least}
		}
		cell = least
	}
	lo, hi := m.Bounds()
	d := hi.Sub(lo)
	if max(d.X, d.Y, d.Z)/cell > 1<<20 {
		return 0, 0, &TooFineError{cell, opt.MostCells, max(d.X, d.Y, d.Z) / (1 << 20)}
	}
	return cell, facetSpan * facetSpan * cell * cell / (16 * radius), nil
}

const (
	// smoothTurn is the angle below which facets beside each other approximate what is round.
	smoothTurn = 30 * math.Pi / 180
	// tightShare is the share of the round surface that may be rounder than the radius that sets the cell.
	tightShare = 0.1
)

// radiusOf returns the radius that most of the part's round surface exceeds, or
// twice the volume over the area, a rod's own radius, where that is less. Two
// facets of heights u and v over their common edge, turned by an angle, lie on the radius (u + v) / 2 / angle.
func radiusOf(m *mesh.Mesh, topo *mesh.Topology) float64 {
	type bend struct{ radius, area float64 }
	var bends []bend
	var all float64
	for h, t := range topo.Twin {
		if t < int32(h) {
			continue
		}
		f, g := h/3, int(t/3)
		n, o := m.AreaNormal(f), m.AreaNormal(g)
		angle := math.Atan2(n.Cross(o).Norm(), n.Dot(o))
		area := n.Norm() + o.Norm()
		if angle > smoothTurn || angle < 1e-3 || area == 0 {
			continue
		}
		long := m.Vertices[m.Origin(int32(h))].Distance(m.Vertices[m.Target(int32(h))])
		bends = append(bends, bend{area / long / 2 / angle, area})
		all += area
	}
	slices.SortFunc(bends, func(a, b bend) int { return cmp.Compare(a.radius, b.radius) })
	rod := 2 * math.Abs(m.Volume()) / m.Area()
	left := tightShare * all
	for _, b := range bends {
		if left -= b.area; left < 0 {
			return min(rod, b.radius)
		}
	}
	return rod
}

// sorted puts the facets in the order of the part's facets.
func sorted(m *mesh.Mesh, of []int32) (*mesh.Mesh, []int32) {
	order := make([]int32, len(of))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(a, b int32) int { return int(of[a]) - int(of[b]) })
	out, to := &mesh.Mesh{Vertices: m.Vertices, Facets: make([][3]int32, len(of)), Source: make([]int32, len(of))}, make([]int32, len(of))
	for i, f := range order {
		out.Facets[i], out.Source[i], to[i] = m.Facets[f], mesh.None, of[f]
	}
	return out, to
}
