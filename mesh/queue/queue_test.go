package queue_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/queue"
)

// Entries come out sorted by key, then number, whatever the order they went in
// and whatever was taken out between.
func TestLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 200 {
		var q queue.Least
		var in []queue.Entry
		for i := range n {
			e := queue.Entry{Key: float64(r.IntN(20)), Number: int32(r.IntN(50))} // many alike
			if i%17 == 0 {
				e.Key = math.Inf(1 - 2*r.IntN(2))
			}
			q.Push(e.Key, e.Number)
			in = append(in, e)
			if i%3 == 2 {
				least := slices.MinFunc(in, order)
				require.Equal(t, least, q.Pop())
				k := slices.Index(in, least)
				in = slices.Delete(in, k, k+1)
			}
		}
		slices.SortFunc(in, order)
		for _, e := range in {
			require.Equal(t, e, q.Pop())
		}
		require.Empty(t, q)
	}
}

func order(a, b queue.Entry) int {
	return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Number, b.Number))
}
