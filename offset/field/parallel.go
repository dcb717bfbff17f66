package field

import (
	"context"

	"skinstock/mesh"
)

// spread is mesh.Spread for work that does not fail.
func spread(ctx context.Context, workers, n, chunk int, do func(worker, lo, hi int)) error {
	return mesh.Spread(ctx, n, chunk, workers, func(w, lo, hi int) error {
		do(w, lo, hi)
		return nil
	})
}
