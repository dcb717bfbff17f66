package field

import (
	"context"
	"fmt"
	"math"
)

// gmres solves A x = b by restart-free GMRES preconditioned from the right
// (Saad and Schultz, SIAM J. Sci. Stat. Comput. 7 (1986) 856). It returns the
// solution, the residual's history relative to b, and NotConvergedError
// together with the best solution when most steps have passed. Sums run in
// index order.
func gmres(ctx context.Context, apply, precondition func(ctx context.Context, x, y []float64) error, b []float64,
	tolerance float64, most int, step func(k int, residual float64),
) ([]float64, []float64, error) {
	n := len(b)
	x := make([]float64, n)
	beta := norm(b)
	if beta == 0 {
		return x, nil, nil
	}
	basis := [][]float64{scaled(b, 1/beta)}
	var h [][]float64 // columns
	var cs, sn, history []float64
	g := []float64{beta}
	z := make([]float64, n)
	k, residual := 0, 1.0
	for ; k < most && residual > tolerance; k++ {
		if err := precondition(ctx, basis[k], z); err != nil {
			return nil, history, err
		}
		w := make([]float64, n)
		if err := apply(ctx, z, w); err != nil {
			return nil, history, err
		}
		col := make([]float64, k+2)
		for i, v := range basis {
			col[i] = dot(w, v)
			axpy(-col[i], v, w)
		}
		col[k+1] = norm(w)
		lucky := col[k+1] <= 1e-14*beta
		if !lucky {
			basis = append(basis, scaled(w, 1/col[k+1]))
		}
		for i := range cs {
			col[i], col[i+1] = cs[i]*col[i]+sn[i]*col[i+1], cs[i]*col[i+1]-sn[i]*col[i]
		}
		r := math.Hypot(col[k], col[k+1])
		cs, sn = append(cs, col[k]/r), append(sn, col[k+1]/r)
		col[k], col[k+1] = r, 0
		g = append(g, -sn[k]*g[k])
		g[k] *= cs[k]
		h = append(h, col)
		residual = math.Abs(g[k+1]) / beta
		history = append(history, residual)
		if step != nil {
			step(k+1, residual)
		}
		if lucky {
			k++
			break
		}
	}
	// Back substitution, then one preconditioned combination of the basis.
	y := make([]float64, k)
	for i := k - 1; i >= 0; i-- {
		y[i] = g[i]
		for j := i + 1; j < k; j++ {
			y[i] -= h[j][i] * y[j]
		}
		y[i] /= h[i][i]
	}
	sum := make([]float64, n)
	for i, c := range y {
		axpy(c, basis[i], sum)
	}
	if err := precondition(ctx, sum, x); err != nil {
		return nil, history, err
	}
	if residual > tolerance {
		return x, history, &NotConvergedError{Iterations: k, Residual: residual, Wanted: tolerance}
	}
	return x, history, nil
}

// NotConvergedError tells that the linear solver stopped short of its tolerance.
type NotConvergedError struct {
	Iterations       int
	Residual, Wanted float64 // relative to the right-hand side
}

func (e *NotConvergedError) Error() string {
	return fmt.Sprintf("field solver stopped after %d iterations at a residual of %.2g, wanted %.2g; the surface may touch or cross itself", e.Iterations, e.Residual, e.Wanted)
}

func dot(a, b []float64) float64 {
	var s float64
	for i, v := range a {
		s += float64(v * b[i])
	}
	return s
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }

func scaled(a []float64, k float64) []float64 {
	out := make([]float64, len(a))
	for i, v := range a {
		out[i] = v * k
	}
	return out
}

func axpy(k float64, x, y []float64) {
	for i, v := range x {
		y[i] += float64(k * v)
	}
}
