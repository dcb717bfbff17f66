package memory

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The memory may grow by the floor where little is in use, by the share where
// much is; a heap of less than 16 MiB counts as one of 16.
func TestPercentFor(t *testing.T) {
	for live, want := range map[uint64]int{
		0: 150, 8 << 20: 150, 16 << 20: 150, 32 << 20: 75, 80 << 20: 30, 120 << 20: 20, 16 << 30: 20,
	} {
		require.Equal(t, want, percentFor(live), live)
	}
}

// The percentage follows what is in use, upwards and downwards.
func TestCollectFollows(t *testing.T) {
	Collect()
	defer debug.FreeOSMemory()
	follows := func(least, most int) {
		require.Eventually(t, func() bool {
			runtime.GC()
			s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
			metrics.Read(s)
			p := int(s[0].Value.Uint64())
			return p >= least && p <= most
		}, 10*time.Second, 10*time.Millisecond, "%d to %d %%", least, most)
	}
	follows(110, 150)
	hold := make([]byte, 64<<20)
	follows(30, 38) // of 64 MiB and at most 16 more
	runtime.KeepAlive(hold)
	follows(110, 150)
}
