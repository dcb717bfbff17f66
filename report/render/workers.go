package render

import (
	"context"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// chunkSize is how many facets or vertices are worked on between two looks at the context.
const chunkSize = 16384

// chunks calls f on ranges that cover 0 to n, from several goroutines.
func chunks(ctx context.Context, n, workers int, f func(lo, hi int)) error {
	return each(ctx, (n+chunkSize-1)/chunkSize, workers, func(i int) {
		f(i*chunkSize, min(n, (i+1)*chunkSize))
	})
}

// each calls f on the numbers 0 to n-1 from several goroutines.
func each(ctx context.Context, n, workers int, f func(i int)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var g errgroup.Group
	g.SetLimit(workers)
	for i := range n {
		if ctx.Err() != nil {
			break
		}
		g.Go(func() error {
			if ctx.Err() == nil {
				f(i)
			}
			return nil
		})
	}
	_ = g.Wait() // the functions return no errors
	return ctx.Err()
}
