package screen

import (
	"math"

	"github.com/golang/geo/r3"
)

// sym is a symmetric 3 x 3 matrix.
type sym struct{ xx, xy, xz, yy, yz, zz float64 }

func (s *sym) add(n r3.Vector, w float64) {
	s.xx += w * n.X * n.X
	s.xy += w * n.X * n.Y
	s.xz += w * n.X * n.Z
	s.yy += w * n.Y * n.Y
	s.yz += w * n.Y * n.Z
	s.zz += w * n.Z * n.Z
}

// eigen returns the eigenvalues, largest first, with unit eigenvectors, by
// cyclic Jacobi rotations (Golub and Van Loan, "Matrix Computations").
func (s sym) eigen() (val [3]float64, vec [3]r3.Vector) {
	a := [3][3]float64{{s.xx, s.xy, s.xz}, {s.xy, s.yy, s.yz}, {s.xz, s.yz, s.zz}}
	q := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 12 {
		off := a[0][1]*a[0][1] + a[0][2]*a[0][2] + a[1][2]*a[1][2]
		if off <= 1e-30*(a[0][0]*a[0][0]+a[1][1]*a[1][1]+a[2][2]*a[2][2]) {
			break
		}
		for _, ij := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			i, j := ij[0], ij[1]
			if a[i][j] == 0 {
				continue
			}
			th := (a[j][j] - a[i][i]) / (2 * a[i][j])
			t := 1 / (math.Abs(th) + math.Sqrt(th*th+1))
			if th < 0 {
				t = -t
			}
			c := 1 / math.Sqrt(t*t+1)
			sn := t * c
			for k := range 3 {
				a[k][i], a[k][j] = c*a[k][i]-sn*a[k][j], sn*a[k][i]+c*a[k][j]
			}
			for k := range 3 {
				a[i][k], a[j][k] = c*a[i][k]-sn*a[j][k], sn*a[i][k]+c*a[j][k]
				q[k][i], q[k][j] = c*q[k][i]-sn*q[k][j], sn*q[k][i]+c*q[k][j]
			}
		}
	}
	o := [3]int{0, 1, 2}
	for _, ij := range [3][2]int{{0, 1}, {1, 2}, {0, 1}} {
		if a[o[ij[0]]][o[ij[0]]] < a[o[ij[1]]][o[ij[1]]] {
			o[ij[0]], o[ij[1]] = o[ij[1]], o[ij[0]]
		}
	}
	for k, i := range o {
		val[k] = a[i][i]
		vec[k] = r3.Vector{X: q[0][i], Y: q[1][i], Z: q[2][i]}
	}
	return val, vec
}
