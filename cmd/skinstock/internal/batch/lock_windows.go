package batch

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// flock takes the lock of a file, shared by many or by one alone. The system
// gives it back when the process ends, however it ends. The lock lies behind
// what the file holds, which others may still read.
func flock(f *os.File, alone bool) error {
	const behind = 1 << 30
	at := &windows.Overlapped{Offset: behind}
	h := windows.Handle(f.Fd())
	_ = windows.UnlockFileEx(h, 0, 1, 0, at) // a lock taken before is not changed but taken anew
	flags := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if alone {
		flags |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	err := windows.LockFileEx(h, flags, 0, 1, 0, at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errBusy
	}
	return err
}
