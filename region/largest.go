package region

import (
	"cmp"
	"iter"
	"math"
	"math/bits"
	"slices"

	"skinstock/mesh"
)

// Areas are told apart by their exponent and some bits of their fraction before any
// are compared, fewer bits where there are few; what is more than 256 times smaller than the largest is not.
const areaRange, mostAreaBits = 256, 8

// largest yields the numbers 0 to len(area)-1 by falling area, equal ones
// ascending, and sorts no more of them than are taken.
func largest(area []float64) iter.Seq[int32] {
	return func(yield func(int32) bool) {
		fraction := min(mostAreaBits, bits.Len(uint(len(area)/areaRange)))
		buckets := areaRange << fraction
		key := func(a float64) int { return int(math.Float64bits(a) >> (52 - fraction)) }
		top := 0
		for _, a := range area {
			top = max(top, key(a))
		}
		start := make([]int32, buckets+1)
		bucket := func(a float64) int { return min(top-key(a), buckets-1) }
		for _, a := range area {
			start[bucket(a)+1]++
		}
		for b := range buckets {
			start[b+1] += start[b]
		}
		order, next := make([]int32, len(area)), slices.Clone(start)
		for i, a := range area {
			b := bucket(a)
			order[next[b]] = int32(i)
			next[b]++
		}
		for b := range buckets {
			run := order[start[b]:start[b+1]]
			slices.SortFunc(run, func(i, j int32) int { return cmp.Or(cmp.Compare(area[j], area[i]), cmp.Compare(i, j)) })
			for _, i := range run {
				if !yield(i) {
					return
				}
			}
		}
	}
}

// areas returns the area of every facet, mm2.
func areas(m *mesh.Mesh, workers int) []float64 {
	a := make([]float64, len(m.Facets))
	mesh.InChunks(len(a), workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			a[f] = m.FacetArea(f)
		}
	})
	return a
}
