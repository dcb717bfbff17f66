package mesh

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Chunk is how many items InChunks hands out at once.
const Chunk = 8192

// InChunks calls do for the ranges from 0, Chunk, 2 Chunk and so on that make up
// 0 to n, side by side on up to the given number of goroutines; 0 takes
// GOMAXPROCS. The ranges do not depend on the workers.
func InChunks(n, workers int, do func(lo, hi int)) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	work := func() {
		for {
			hi := int(next.Add(Chunk))
			if hi-Chunk >= n {
				return
			}
			do(hi-Chunk, min(hi, n))
		}
	}
	var g sync.WaitGroup
	for range min(workers, (n+Chunk-1)/Chunk) - 1 {
		g.Go(work)
	}
	work()
	g.Wait()
}

// sum adds what do returns for the ranges of InChunks, in their order.
func sum(n int, do func(lo, hi int) float64) float64 {
	part := make([]float64, (n+Chunk-1)/Chunk)
	InChunks(n, 0, func(lo, hi int) { part[lo/Chunk] = do(lo, hi) })
	var s float64
	for _, p := range part {
		s += p
	}
	return s
}
