package memory

import (
	"context"
	"fmt"
	"runtime/debug"
	"runtime/metrics"
	"time"
)

// OverError says that a part takes, or would take, more than it may.
type OverError struct {
	NeedBytes, LimitBytes int64
	Running               bool // met while working, not estimated before
}

// Error tells the two sizes and what helps.
func (e *OverError) Error() string {
	what := "the part needs about " + Format(e.NeedBytes) + " of memory"
	if e.Running {
		what = "stopped when the memory in use reached " + Format(e.NeedBytes)
	}
	return fmt.Sprintf("%s, the limit is %s: run it on a larger machine, with fewer parts at once, or raise --max-memory", what, Format(e.LimitBytes))
}

// how often the watch looks; a core fills about 1 GB a second at most.
const every = 100 * time.Millisecond

// Watch makes the collector keep to the limit and calls over, once for each
// look, when the memory in use has reached it all the same. It returns what ends it.
func Watch(ctx context.Context, limit int64, over func(*OverError)) (stop func()) {
	before := debug.SetMemoryLimit(limit - limit/16)
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(every)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				if InUse() <= limit {
					continue
				}
				debug.FreeOSMemory() // what is over only because it was not given back does not count
				if n := InUse(); n > limit && ctx.Err() == nil {
					over(&OverError{NeedBytes: n, LimitBytes: limit, Running: true})
				}
			}
		}
	}()
	return func() {
		cancel()
		<-ended
		debug.SetMemoryLimit(before)
	}
}

// InUse returns the memory that the process holds, in bytes.
func InUse() int64 {
	s := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(s)
	return int64(s[0].Value.Uint64() - s[1].Value.Uint64())
}
