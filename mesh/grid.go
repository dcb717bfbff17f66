package mesh

import (
	"math"

	"github.com/golang/geo/r3"
)

// pointGrid finds points in boxes. Cells are hashed into buckets, as many as
// points, so memory is in proportion to the points wherever they lie.
type pointGrid struct {
	at    []r3.Vector
	cell  float64 // mm
	lo    r3.Vector
	mask  uint64
	start []int32
	items []int32 // indices into at, by bucket, ascending within
	tests int     // points looked at so far, a measure of the work done
}

// gridCells is the most cells along an axis: indices must stay exact in float64 and fit an int32.
const gridCells = 1 << 30

func newPointGrid(at []r3.Vector, cell float64) *pointGrid {
	g := &pointGrid{at: at, lo: far}
	hi := far.Mul(-1)
	for _, p := range at {
		g.lo, hi = lower(g.lo, p), upper(hi, p)
	}
	d := hi.Sub(g.lo)
	g.cell = max(cell, max(d.X, d.Y, d.Z)/gridCells, math.SmallestNonzeroFloat64)
	size := 1
	for size < len(at) {
		size *= 2
	}
	g.mask = uint64(size - 1)
	g.start = make([]int32, size+2)
	for _, p := range at {
		g.start[g.bucket(g.cellOf(p))+2]++
	}
	for i := 3; i < len(g.start); i++ {
		g.start[i] += g.start[i-1]
	}
	g.items = make([]int32, len(at))
	for i, p := range at {
		b := g.bucket(g.cellOf(p)) + 1
		g.items[g.start[b]] = int32(i)
		g.start[b]++
	}
	return g
}

func (g *pointGrid) cellOf(p r3.Vector) [3]int32 {
	return [3]int32{g.index(p.X - g.lo.X), g.index(p.Y - g.lo.Y), g.index(p.Z - g.lo.Z)}
}

func (g *pointGrid) index(d float64) int32 {
	return int32(max(-2, min(gridCells+2, math.Floor(d/g.cell))))
}

func (g *pointGrid) bucket(c [3]int32) uint64 {
	h := (uint64(uint32(c[0])) | uint64(uint32(c[1]))<<32) * 0x9E3779B97F4A7C15
	h = (h ^ h>>29 + uint64(uint32(c[2]))) * 0xBF58476D1CE4E5B9
	return (h ^ h>>32) & g.mask
}

// inBox calls visit for every point in the cells that the box lo, hi touches.
func (g *pointGrid) inBox(lo, hi r3.Vector, visit func(i int32)) {
	a, b := g.cellOf(lo), g.cellOf(hi)
	var c [3]int32
	for c[0] = a[0]; c[0] <= b[0]; c[0]++ {
		for c[1] = a[1]; c[1] <= b[1]; c[1]++ {
			for c[2] = a[2]; c[2] <= b[2]; c[2]++ {
				k := g.bucket(c)
				g.tests++
				for _, i := range g.items[g.start[k]:g.start[k+1]] {
					g.tests++
					if g.cellOf(g.at[i]) == c {
						visit(i)
					}
				}
			}
		}
	}
}
