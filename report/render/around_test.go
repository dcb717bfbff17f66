package render

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Around finds what a sort of everything finds: the weights are whole numbers,
// whose sums are exact in any order.
func TestAroundAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for name, value := range map[string]func(i int) float64{
		"spread":     func(int) float64 { return rng.NormFloat64() },
		"all alike":  func(int) float64 { return 7 },
		"two values": func(i int) float64 { return float64(i % 2) },
		"outlier":    func(i int) float64 { return map[bool]float64{true: 1e300, false: rng.Float64()}[i == 5000] },
		"huge":       func(int) float64 { return math.MaxFloat64 * (2*rng.Float64() - 1) },
	} {
		var ws []Weighted
		total := 0.0
		for i := range 30000 {
			w := Weighted{value(i), float64(1 + rng.IntN(9))}
			ws, total = append(ws, w), total+w.Weight
		}
		all := slices.SortedStableFunc(slices.Values(ws), func(a, b Weighted) int { return cmp.Compare(a.Value, b.Value) })
		for _, share := range []float64{0, 0.01, 0.5, 0.99, 1} {
			target := math.Round(share * total)
			run, before, below := Around(ws, target)
			first, sum := 0, 0.0
			for first < len(all) && all[first] != run[0] {
				sum += all[first].Weight
				first++
			}
			if sum != before || !slices.Equal(run, all[first:first+len(run)]) {
				t.Errorf("%s, %v: %d values after a weight of %v are not the run at %d after %v", name, share, len(run), before, first, sum)
				continue
			}
			if first == 0 && !math.IsInf(below, -1) || first > 0 && below != all[first-1].Value {
				t.Errorf("%s, %v: %v is not the value before the run", name, share, below)
			}
			for _, w := range run {
				sum += w.Weight
			}
			if before > target || sum < target {
				t.Errorf("%s, %v: the run holds weights from %v to %v, not %v", name, share, before, sum, target)
			}
		}
	}
}
