// Package sym3 computes with symmetric 3 x 3 matrices: the second moments of
// points or normals, and the normal equations of planes met by least squares.
package sym3

import (
	"math"

	"github.com/golang/geo/r3"
)

// Matrix is a symmetric matrix.
type Matrix struct{ XX, XY, XZ, YY, YZ, ZZ float64 }

// Add adds w d dT.
func (m *Matrix) Add(d r3.Vector, w float64) {
	x, y, z := w*d.X, w*d.Y, w*d.Z
	m.XX += float64(x * d.X)
	m.XY += float64(x * d.Y)
	m.XZ += float64(x * d.Z)
	m.YY += float64(y * d.Y)
	m.YZ += float64(y * d.Z)
	m.ZZ += float64(z * d.Z)
}

// Trace returns the sum of the eigenvalues.
func (m *Matrix) Trace() float64 { return m.XX + m.YY + m.ZZ }

// Rows returns all nine numbers.
func (m *Matrix) Rows() [3][3]float64 {
	return [3][3]float64{{m.XX, m.XY, m.XZ}, {m.XY, m.YY, m.YZ}, {m.XZ, m.YZ, m.ZZ}}
}

// Solve returns x with (m + ridge 1) x = b for a matrix without negative
// eigenvalues, by Cramer's rule, and 0 where there is no one such x. A ridge
// small against the trace draws x to 0 in the directions that m leaves free.
func (m *Matrix) Solve(ridge float64, b r3.Vector) r3.Vector {
	x := r3.Vector{X: m.XX + ridge, Y: m.XY, Z: m.XZ}
	y := r3.Vector{X: m.XY, Y: m.YY + ridge, Z: m.YZ}
	z := r3.Vector{X: m.XZ, Y: m.YZ, Z: m.ZZ + ridge}
	det := x.Dot(y.Cross(z))
	if !(det > 0) {
		return r3.Vector{}
	}
	return r3.Vector{X: b.Dot(y.Cross(z)), Y: x.Dot(b.Cross(z)), Z: x.Dot(y.Cross(b))}.Mul(1 / det)
}

// Eigen returns the eigenvalues, largest first, and unit eigenvectors, by
// Jacobi's rotations (Golub and Van Loan, Matrix Computations, section 8.5).
func (m *Matrix) Eigen() (value [3]float64, vector [3]r3.Vector) {
	const enough = 1e-30 // of the square of what is off the diagonal, against that on it
	a := m.Rows()
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 12 {
		off := float64(a[0][1]*a[0][1]) + float64(a[0][2]*a[0][2]) + float64(a[1][2]*a[1][2])
		if off <= enough*(float64(a[0][0]*a[0][0])+float64(a[1][1]*a[1][1])+float64(a[2][2]*a[2][2])) {
			break
		}
		for _, ij := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			i, j := ij[0], ij[1]
			if a[i][j] == 0 {
				continue
			}
			theta := (a[j][j] - a[i][i]) / (2 * a[i][j])
			t := math.Copysign(1, theta) / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
			c := 1 / math.Sqrt(float64(t*t)+1)
			s := t * c
			for k := range 3 {
				a[k][i], a[k][j] = rotated(a[k][i], a[k][j], c, s)
			}
			for k := range 3 {
				a[i][k], a[j][k] = rotated(a[i][k], a[j][k], c, s)
				v[k][i], v[k][j] = rotated(v[k][i], v[k][j], c, s)
			}
		}
	}
	order := [3]int{0, 1, 2}
	for _, ij := range [3][2]int{{0, 1}, {1, 2}, {0, 1}} {
		if i, j := order[ij[0]], order[ij[1]]; a[i][i] < a[j][j] {
			order[ij[0]], order[ij[1]] = j, i
		}
	}
	for k, i := range order {
		value[k] = a[i][i]
		vector[k] = r3.Vector{X: v[0][i], Y: v[1][i], Z: v[2][i]}
	}
	return value, vector
}

func rotated(x, y, c, s float64) (float64, float64) {
	return float64(c*x) - float64(s*y), float64(s*x) + float64(c*y)
}
