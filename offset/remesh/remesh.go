package remesh

import (
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
	Chord      float64 // how far facets may cut into what is round; 0 takes 0.001
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
	Chord     float64    // mm: how far facets may cut into what is round, at this cell
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
	cell, chord, err := cellOf(m, l.most, opt)
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

// cellOf returns the side of the cells: facets over a cell of side h cut
// h^2/(8 r) deep into what has the radius r, which is taken as twice the part's volume over its
// area (a rod's own radius) and the allowance.
func cellOf(m *mesh.Mesh, most float64, opt Options) (cell, chord float64, err error) {
	area := m.Area()
	radius := 2*math.Abs(m.Volume())/area + most
	if cell = opt.Cell; cell == 0 {
		cell = math.Sqrt(8 * opt.Chord * radius)
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
	return cell, cell * cell / (8 * radius), nil
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
