package render

import (
	"cmp"
	"math"
	"slices"
)

// Weighted is a value with what it counts.
type Weighted struct{ Value, Weight float64 }

const (
	aroundBins = 4096 // into how many steps of value Around sorts at once
	aroundFew  = 4096 // values that are sorted one by one
)

// Around tells where the sum of the weights, over the values in rising order,
// comes to a target, and sorts no more of them than that takes. It returns a
// run of values in which it does, rising, and what comes before the run: the sum
// of the weights, and the greatest value, -Inf for none.
func Around(ws []Weighted, target float64) (run []Weighted, before, below float64) {
	below = math.Inf(-1)
	for run = ws; len(run) > aroundFew; {
		all := len(run)
		if run, before, below = around(run, target, before, below); len(run) == all {
			break // all alike
		}
	}
	run = slices.Clone(run)
	slices.SortStableFunc(run, func(a, b Weighted) int { return cmp.Compare(a.Value, b.Value) })
	return run, before, below
}

// around narrows a run down to those of its values that fall into one step.
func around(ws []Weighted, target, before, below float64) ([]Weighted, float64, float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, w := range ws {
		lo, hi = min(lo, w.Value), max(hi, w.Value)
	}
	per := aroundBins / (hi - lo)
	if !(per > 0 && per < math.Inf(1)) { // all alike, or out of reach of numbers
		return ws, before, below
	}
	bin := func(v float64) int { return min(int((v-lo)*per), aroundBins-1) }
	var sums [aroundBins]float64
	for _, w := range ws {
		sums[bin(w.Value)] += w.Weight
	}
	at := 0
	for ; at < aroundBins-1 && before+sums[at] < target; at++ {
		before += sums[at]
	}
	var run []Weighted
	for _, w := range ws {
		switch b := bin(w.Value); {
		case b < at:
			below = max(below, w.Value)
		case b == at:
			run = append(run, w)
		}
	}
	return run, before, below
}
