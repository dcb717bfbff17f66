package memory

import (
	"math"
	"runtime/debug"
	"sync"
	"unsafe"

	"golang.org/x/sys/unix"
)

const (
	largePage = 2 << 20
	// leastLarge and mostLarge bound what is asked to be in large pages: small parts gain
	// nothing by it.
	leastLarge = 128 << 20
	mostLarge  = 4 << 30
)

// advised is how much was asked for already.
var advised struct {
	sync.Mutex
	bytes int64
}

// LargePages asks the system to hold the next bytes of memory, and later what takes
// their place, in large pages: what looks all over a large part, as trees do, then
// finds its pages several times faster. Where a system has none, nothing changes, nor
// where so much was asked for before.
func LargePages(bytes int64) {
	advised.Lock()
	defer advised.Unlock()
	if bytes = min(bytes, mostLarge, math.MaxInt/2); bytes < leastLarge || bytes <= advised.bytes {
		return
	}
	advised.bytes = bytes
	// The heap grows by this, the advice stays with its addresses, and none of it is
	// touched; it is given back at once and taken again piece by piece.
	b := make([]byte, bytes)
	skip := -uintptr(unsafe.Pointer(unsafe.SliceData(b))) % largePage
	whole := (uintptr(len(b)) - skip) / largePage * largePage
	_ = unix.Madvise(b[skip:skip+whole], unix.MADV_HUGEPAGE)
	debug.FreeOSMemory()
}
