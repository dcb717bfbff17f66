package memory

import (
	"runtime/debug"
	"syscall"
	"unsafe"
)

const (
	largePage = 2 << 20
	// mostLarge bounds what is asked to be in large pages.
	mostLarge = 4 << 30
)

// LargePages asks the system to hold the next bytes of memory, and later what takes
// their place, in large pages: what looks all over a large part, as trees do, then
// finds its pages several times faster. Where a system has none, nothing changes.
func LargePages(bytes int64) {
	if bytes = min(bytes, mostLarge); bytes < 2*largePage {
		return
	}
	// The heap grows by this, the advice stays with its addresses, and none of it is
	// touched; it is given back at once and taken again piece by piece.
	b := make([]byte, bytes)
	skip := -uintptr(unsafe.Pointer(unsafe.SliceData(b))) % largePage
	whole := (uintptr(len(b)) - skip) / largePage * largePage
	_ = syscall.Madvise(b[skip:skip+whole], syscall.MADV_HUGEPAGE)
	b = nil //nolint:ineffassign,wastedassign // so that the next line finds it free
	debug.FreeOSMemory()
}
