package render

import (
	"context"

	"skinstock/mesh"
)

// chunkSize is how many facets or vertices are worked on between two looks at the context.
const chunkSize = 16384

// chunks calls f on ranges that cover 0 to n, from several goroutines.
func chunks(ctx context.Context, n, workers int, f func(lo, hi int)) error {
	return mesh.Spread(ctx, n, chunkSize, workers, func(_, lo, hi int) error {
		f(lo, hi)
		return nil
	})
}

// each calls f on the numbers 0 to n-1 from several goroutines.
func each(ctx context.Context, n, workers int, f func(i int)) error {
	return mesh.Spread(ctx, n, 1, workers, func(_, i, _ int) error {
		f(i)
		return nil
	})
}
