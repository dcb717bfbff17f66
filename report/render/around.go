package render

import (
	"cmp"
	"math"
	"slices"
)

// Weighted is a value with what it counts.
type Weighted struct{ Value, Weight float64 }

// aroundBins is into how many steps of value Around sorts first.
const aroundBins = 4096

// Around tells where the sum of the weights, over the values in rising order,
// comes to a target, and sorts no more of them than that takes. It returns the
// run of values in which it does, rising, and what comes before the run: the sum
// of the weights, and the greatest value, -Inf for none.
func Around(ws []Weighted, target float64) (run []Weighted, before, below float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, w := range ws {
		lo, hi = min(lo, w.Value), max(hi, w.Value)
	}
	per := aroundBins / (hi - lo)
	bin := func(v float64) int { return min(int((v-lo)*per), aroundBins-1) }
	if !(per > 0 && per < math.Inf(1)) { // all alike, or out of reach of numbers
		bin = func(float64) int { return 0 }
	}
	var sums [aroundBins]float64
	for _, w := range ws {
		sums[bin(w.Value)] += w.Weight
	}
	at := 0
	for ; at < aroundBins-1 && before+sums[at] < target; at++ {
		before += sums[at]
	}
	below = math.Inf(-1)
	for _, w := range ws {
		switch b := bin(w.Value); {
		case b < at:
			below = max(below, w.Value)
		case b == at:
			run = append(run, w)
		}
	}
	slices.SortStableFunc(run, func(a, b Weighted) int { return cmp.Compare(a.Value, b.Value) })
	return run, before, below
}
