package mesh

import (
	"context"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"
)

// Chunk is how many items InChunks hands out at once.
const Chunk = 8192

// InChunks is Spread in ranges of Chunk items for work that does not fail.
func InChunks(n, workers int, do func(lo, hi int)) {
	_ = Spread(context.Background(), n, Chunk, workers, func(_, lo, hi int) error { // do does not fail
		do(lo, hi)
		return nil
	})
}

// Spread calls do for the ranges of size items that make up 0 to n, side by side
// on up to the given number of goroutines (0: GOMAXPROCS), until one fails or ctx
// ends, which is asked before each range. The ranges do not depend on the
// workers; which worker takes which is open, so do writes to places of the range
// or of its worker, numbered from 0.
func Spread(ctx context.Context, n, size, workers int, do func(worker, lo, hi int) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	work := func(ctx context.Context, worker int) error {
		for {
			hi := int(next.Add(int64(size)))
			if hi-size >= n {
				return nil
			}
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := do(worker, hi-size, min(hi, n)); err != nil {
				return err
			}
		}
	}
	workers = min(workers, (n+size-1)/size)
	if workers <= 1 {
		return work(ctx, 0)
	}
	g, ctx := errgroup.WithContext(ctx)
	for w := range workers {
		g.Go(func() error { return work(ctx, w) })
	}
	return g.Wait()
}

// Beside runs tasks side by side, as many at once as there are workers (0: GOMAXPROCS).
func Beside(ctx context.Context, workers int, tasks ...func() error) error {
	return Spread(ctx, len(tasks), 1, workers, func(_, i, _ int) error { return tasks[i]() })
}

// Which returns the numbers from 0 to n that pass a test, ascending, and asks
// side by side as InChunks does.
func Which(n, workers int, test func(i int) bool) []int32 {
	parts := make([][]int32, (n+Chunk-1)/Chunk)
	InChunks(n, workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if test(i) {
				parts[lo/Chunk] = append(parts[lo/Chunk], int32(i))
			}
		}
	})
	return slices.Concat(parts...)
}

// Most returns the greatest of what of returns for the numbers from 0 to n, and
// zero where none is greater.
func Most(n, workers int, of func(i int) float64) float64 {
	part := make([]float64, (n+Chunk-1)/Chunk)
	InChunks(n, workers, func(lo, hi int) {
		most := 0.0
		for i := lo; i < hi; i++ {
			most = max(most, of(i))
		}
		part[lo/Chunk] = most
	})
	return slices.Max(append(part, 0))
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

// shareLimit bounds shares.
const shareLimit = 4

// shares is into how many runs n items are best divided that each need much
// memory of their own: one a processor, but few.
func shares(n int) int { return max(1, min(shareLimit, runtime.GOMAXPROCS(0), n/Chunk)) }

// inShares divides 0 to n into so many runs and calls do for all of them side by side.
func inShares(n, count int, do func(share, lo, hi int)) {
	var all sync.WaitGroup
	for i := range count {
		all.Go(func() { do(i, i*n/count, (i+1)*n/count) })
	}
	all.Wait()
}

// JoinBefore has join called for every item f of 0 to n, once or twice, to join
// it into one set with those of its neighbours from lo up to hi, which come
// before it. Calls side by side are for items of different runs, with lo the
// first of the run; what lies across runs is joined one by one afterwards.
func JoinBefore(n int, join func(f, lo, hi int)) {
	count := shares(n)
	inShares(n, count, func(_, lo, hi int) {
		for f := lo; f < hi; f++ {
			join(f, lo, f)
		}
	})
	for i := 1; i < count; i++ {
		lo, hi := i*n/count, (i+1)*n/count
		for f := lo; f < hi; f++ {
			join(f, 0, lo)
		}
	}
}
