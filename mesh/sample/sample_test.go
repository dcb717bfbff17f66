package sample

import (
	"math"
	"testing"
)

func TestInsideIsEven(t *testing.T) {
	// Each of the 16 like parts of the triangle gets its share; an even sequence misses it by little more than 1/sqrt(n).
	const n = 4096
	var count [16]int
	for i := range n {
		w := Inside(i)
		if s := w[0] + w[1] + w[2]; math.Abs(s-1) > 1e-12 || min(w[0], w[1], w[2]) < 0 {
			t.Fatalf("weights %v of point %d", w, i)
		}
		x, y := 4*w[1], 4*w[2]
		a, b := math.Floor(x), math.Floor(y)
		k := 0
		for r := range int(b) {
			k += 2*(4-r) - 1
		}
		k += 2 * int(a)
		if x-a+y-b > 1 {
			k++
		}
		count[k]++
	}
	for k, c := range count {
		if math.Abs(float64(c)-n/16) > math.Sqrt(n)/2 {
			t.Errorf("part %d holds %d points, want %d within %v", k, c, n/16, math.Sqrt(n)/2)
		}
	}
}
