package batch

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// Shares that start at the same moment all get the folder, and none beside them does.
func TestSharesStartTogether(t *testing.T) {
	const count = 8
	for range 30 {
		dir := t.TempDir()
		folders := make([]*Folder, count)
		errs := make([]error, count)
		var wg sync.WaitGroup
		for i := range count {
			wg.Go(func() { folders[i], errs[i] = Open(dir, Shard{Index: i + 1, Count: count}, Fresh) })
		}
		wg.Wait()
		for _, err := range errs {
			require.NoError(t, err)
		}
		for _, other := range []Shard{Whole, {Index: 3, Count: count}, {Index: 1, Count: 2}} {
			_, err := Open(dir, other, Resume)
			require.ErrorIs(t, err, ErrBusy)
		}
		for _, f := range folders {
			f.Close()
		}
	}
}
