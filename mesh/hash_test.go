package mesh

import "testing"

// Points on lines and grids are told apart in hardly more steps than points at
// random: 1.5 on average in a table half full (Knuth, linear probing), a third
// more allowed.
func TestHashSpreadsRegularPoints(t *testing.T) {
	const n, size = 1 << 15, 1 << 16
	for name, at := range map[string]func(i int) [3]float32{
		"x axis":   func(i int) [3]float32 { return [3]float32{float32(i), 0, 0} },
		"y axis":   func(i int) [3]float32 { return [3]float32{0, float32(i), 0} },
		"z axis":   func(i int) [3]float32 { return [3]float32{5, 7, float32(i)} },
		"diagonal": func(i int) [3]float32 { v := float32(i); return [3]float32{v, v, v} },
		"plane":    func(i int) [3]float32 { return [3]float32{float32(i%181) * 0.25, float32(i/181) * 0.25, 0} },
		"grid": func(i int) [3]float32 {
			return [3]float32{float32(i%32) * 0.1, float32(i/32%32) * 0.1, float32(i/1024) * 0.1}
		},
	} {
		taken, steps := make([]bool, size), 0
		for i := range n {
			p := at(i)
			h := hashPoint(&p) % size
			for steps++; taken[h]; steps++ {
				h = (h + 1) % size
			}
			taken[h] = true
		}
		if mean := float64(steps) / n; mean > 2 {
			t.Errorf("%s: %.2f steps a point", name, mean)
		}
	}
}
