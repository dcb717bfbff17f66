package memory

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// What may fill up between two collections: a share of what is in use, since
// large slices of numbers, into which the collector does not look, cost it little
// and collecting often keeps a large part small; but not less than a floor, since
// a small part would be collected hundreds of times a second.
const (
	growthPercent = 20
	growthFloor   = 24 << 20
)

// leastHeap is what counts as in use when less is: the percentage holds until it
// is set anew, some time after the next collection, and must not then let a heap that
// has filled up grow many times over.
const leastHeap = 16 << 20

// Collect has the collector run whenever the memory in use grew by a share of
// it or by a floor, whichever is more, and sooner where a limit asks for it. It
// is for the whole process and does not end.
func Collect() {
	debug.SetGCPercent(percentFor(0))
	again(new(token))
}

// token becomes free at every collection.
type token struct{ _ *byte }

// again sets the percentage anew after the next collection, and so on.
func again(t *token) {
	runtime.SetFinalizer(t, func(t *token) {
		debug.SetGCPercent(percentFor(live()))
		again(t)
	})
}

// live is what the last collection found in use, bytes.
func live() uint64 {
	s := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(s)
	return s[0].Value.Uint64()
}

// percentFor is by how many percent the memory in use may grow.
func percentFor(live uint64) int {
	return max(growthPercent, int(growthFloor*100/max(live, leastHeap)))
}
