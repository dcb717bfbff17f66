package field

import (
	"context"
	"math"
)

// blocks is the preconditioner: the inverse of the operator's own block of
// every leaf.
type blocks struct {
	o       *operator
	inverse [][]float32 // per leaf, by position in the tree's list
}

func newBlocks(ctx context.Context, o *operator) (*blocks, error) {
	b := &blocks{o: o, inverse: make([][]float32, len(o.t.leaves))}
	err := spread(ctx, o.workers, len(o.t.leaves), 1, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			b.inverse[i] = invert(o.ownBlock(o.t.leaves[i]))
		}
	})
	return b, err
}

// ownBlock returns the rows of a leaf for its own panels.
func (o *operator) ownBlock(l int32) [][]float64 {
	nd := &o.t.nodes[l]
	n := int(nd.hi - nd.lo)
	skip, cols := 0, 0
	for _, s := range o.t.near[l] {
		if s == l {
			skip = cols
		}
		cols += int(o.t.nodes[s].hi - o.t.nodes[s].lo)
	}
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = make([]float64, n)
		for j, v := range o.entries[l][i*cols+skip : i*cols+skip+n] {
			rows[i][j] = float64(v)
		}
	}
	return rows
}

// invert returns the inverse, row by row, by Gauss-Jordan elimination with
// partial pivoting; rows without a pivot keep a unit row.
func invert(a [][]float64) []float32 {
	n := len(a)
	inv := make([][]float64, n)
	for i := range inv {
		inv[i] = make([]float64, n)
		inv[i][i] = 1
	}
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if a[p][c] == 0 {
			continue
		}
		a[c], a[p] = a[p], a[c]
		inv[c], inv[p] = inv[p], inv[c]
		k := 1 / a[c][c]
		for j := range n {
			a[c][j] *= k
			inv[c][j] *= k
		}
		for r := range n {
			if f := a[r][c]; r != c && f != 0 {
				axpy(-f, a[c], a[r])
				axpy(-f, inv[c], inv[r])
			}
		}
	}
	out := make([]float32, 0, n*n)
	for _, r := range inv {
		for _, v := range r {
			out = append(out, float32(v))
		}
	}
	return out
}

// apply sets y to the preconditioner on x.
func (b *blocks) apply(ctx context.Context, x, y []float64) error {
	return spread(ctx, b.o.workers, len(b.inverse), 4, func(_, lo, hi int) {
		for k := lo; k < hi; k++ {
			nd := &b.o.t.nodes[b.o.t.leaves[k]]
			xs := x[nd.lo:nd.hi]
			for i := range xs {
				var s float64
				for j, v := range b.inverse[k][i*len(xs) : (i+1)*len(xs)] {
					s += float64(v) * xs[j]
				}
				y[int(nd.lo)+i] = s
			}
		}
	})
}
