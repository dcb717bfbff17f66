package arrange

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// The determinant in machine words against math/big, at the largest numbers
// the grid allows and at ones that cancel.
func TestWideDeterminantAgreesWithBig(t *testing.T) {
	num := rapid.OneOf(rapid.Int64Range(-1<<52, 1<<52), rapid.Int64Range(-3, 3))
	rapid.Check(t, func(t *rapid.T) {
		var v [3][3]int64
		for i := range 3 {
			for k := range 3 {
				v[i][k] = num.Draw(t, "x")
			}
		}
		if rapid.Bool().Draw(t, "dependent") {
			for k := range 3 {
				v[2][k] = v[0][k]/2 + v[1][k]/2
			}
		}
		var sum int192
		var want, m, x, y big.Int
		for k := range 3 {
			i, j := (k+1)%3, (k+2)%3
			sum.addProduct(difference(v[0][i], v[1][j], v[0][j], v[1][i]), v[2][k])
			m.Mul(big.NewInt(v[0][i]), big.NewInt(v[1][j]))
			m.Sub(&m, x.Mul(big.NewInt(v[0][j]), big.NewInt(v[1][i])))
			want.Add(&want, y.Mul(&m, big.NewInt(v[2][k])))
		}
		if sum.sign() != want.Sign() {
			t.Fatalf("sign %d, want %d of %v", sum.sign(), want.Sign(), &want)
		}
	})
}
