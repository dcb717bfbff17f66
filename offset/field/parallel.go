package field

import (
	"context"
	"sync/atomic"

	"golang.org/x/sync/errgroup"
)

// spread calls do for every chunk of the indices below n, on up to workers
// goroutines; worker numbers them for scratch space. Each index belongs to
// exactly one call, so that results do not depend on who made them.
func spread(ctx context.Context, workers, n, chunk int, do func(worker, lo, hi int)) error {
	chunks := (n + chunk - 1) / chunk
	workers = max(1, min(workers, chunks))
	if workers == 1 {
		for lo := 0; lo < n; lo += chunk {
			if err := ctx.Err(); err != nil {
				return err
			}
			do(0, lo, min(lo+chunk, n))
		}
		return ctx.Err()
	}
	var next atomic.Int64
	g, ctx := errgroup.WithContext(ctx)
	for w := range workers {
		g.Go(func() error {
			for {
				i := int(next.Add(1)) - 1
				if i >= chunks {
					return nil
				}
				if err := ctx.Err(); err != nil {
					return err
				}
				do(w, i*chunk, min((i+1)*chunk, n))
			}
		})
	}
	return g.Wait()
}
