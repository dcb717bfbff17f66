package mesh

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every item is handed out once, in the same ranges whatever the workers, and
// no two calls share a worker's number at a time.
func TestSpreadHandsOutEveryItemOnce(t *testing.T) {
	for _, n := range []int{0, 1, 99, 100, 101, 1000} {
		for _, workers := range []int{0, 1, 3, 64} {
			t.Run(fmt.Sprintf("%d items, %d workers", n, workers), func(t *testing.T) {
				times := make([]int, n)
				busy := make([]chan struct{}, 64)
				for w := range busy {
					busy[w] = make(chan struct{}, 1)
				}
				require.NoError(t, Spread(t.Context(), n, 100, workers, func(w, lo, hi int) error {
					select {
					case busy[w] <- struct{}{}:
					default:
						return fmt.Errorf("worker %d is at work already", w)
					}
					if lo%100 != 0 || hi != min(lo+100, n) {
						return fmt.Errorf("range from %d to %d", lo, hi)
					}
					for i := lo; i < hi; i++ {
						times[i]++
					}
					<-busy[w]
					return nil
				}))
				for i, k := range times {
					require.Equal(t, 1, k, "item %d", i)
				}
			})
		}
	}
}

func TestSpreadStops(t *testing.T) {
	wrong := errors.New("wrong")
	for _, workers := range []int{1, 4} {
		calls := make([]int, workers)
		err := Spread(t.Context(), 1000, 1, workers, func(w, _, _ int) error {
			calls[w]++
			return wrong
		})
		require.ErrorIs(t, err, wrong)
		for _, n := range calls {
			require.LessOrEqual(t, n, 1, "a worker went on after its error")
		}

		ended, end := context.WithCancel(t.Context())
		end()
		require.ErrorIs(t, Spread(ended, 10, 1, workers, func(_, _, _ int) error { return wrong }), context.Canceled)
	}
}
