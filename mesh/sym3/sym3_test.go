package sym3_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"skinstock/mesh/sym3"
)

func random(r *rand.Rand) r3.Vector {
	return r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}
}

func times(m *sym3.Matrix, x r3.Vector) r3.Vector {
	a := m.Rows()
	row := func(i int) float64 { return r3.Vector{X: a[i][0], Y: a[i][1], Z: a[i][2]}.Dot(x) }
	return r3.Vector{X: row(0), Y: row(1), Z: row(2)}
}

// Sums of one to six outer products, so of rank one to three, of any size:
// against a general library, and by what eigenvectors are.
func TestEigen(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for i := range 2000 {
		var m sym3.Matrix
		size := math.Pow(10, 12*r.Float64()-6)
		for range 1 + i%6 {
			d := random(r)
			d.Z *= []float64{1, 1e-3, 0}[r.IntN(3)] // flat ones too
			m.Add(d.Mul(size), 0.1+r.Float64())
		}
		value, vector := m.Eigen()

		a := m.Rows()
		var e mat.EigenSym
		require.True(t, e.Factorize(mat.NewSymDense(3, append(append(a[0][:], a[1][:]...), a[2][:]...)), false))
		tol := 1e-13 * m.Trace() // some hundred roundings
		for k, want := range e.Values(nil) {
			require.InDelta(t, want, value[2-k], tol)
		}
		for k, v := range vector {
			require.Less(t, times(&m, v).Distance(v.Mul(value[k])), tol)
			require.InDelta(t, 1, v.Norm(), 1e-14)
			require.InDelta(t, 0, v.Dot(vector[(k+1)%3]), 1e-14)
		}
	}
}

func TestEigenOfDiagonal(t *testing.T) {
	value, vector := (&sym3.Matrix{XX: 1, YY: 3, ZZ: 2}).Eigen()
	require.Equal(t, [3]float64{3, 2, 1}, value)
	require.Equal(t, [3]r3.Vector{{Y: 1}, {Z: 1}, {X: 1}}, vector)

	value, vector = (&sym3.Matrix{}).Eigen()
	require.Zero(t, value)
	require.Equal(t, [3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}, vector)
}

func TestSolve(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 1000 {
		var m sym3.Matrix
		for range 4 {
			m.Add(random(r), 1)
		}
		const ridge = 0.01
		x := random(r)
		b := times(&m, x).Add(x.Mul(ridge))
		// The trace is at most some 50, the ridge bounds the condition by 5000.
		require.Less(t, m.Solve(ridge, b).Distance(x), 1e-11*x.Norm())
	}
}

// Planes through one line leave the way along it free: the ridge answers 0 there.
func TestSolveWithAFreeDirection(t *testing.T) {
	var m sym3.Matrix
	m.Add(r3.Vector{X: 1}, 1)
	m.Add(r3.Vector{Y: 1}, 1)
	x := m.Solve(1e-6, r3.Vector{X: 2, Y: 3})
	require.InDelta(t, 2, x.X, 1e-5)
	require.InDelta(t, 3, x.Y, 1e-5)
	require.Zero(t, x.Z)
	require.Zero(t, m.Solve(0, r3.Vector{X: 2, Y: 3}), "no one answer")
}
