package wholefile

import (
	"os"

	"golang.org/x/sys/unix"
)

// startSync lets the system begin to bring n bytes from offset on to the disk. It does
// not tell whether that goes well: the sync at the end does.
func startSync(f *os.File, offset, n int64) {
	_ = unix.SyncFileRange(int(f.Fd()), offset, n, unix.SYNC_FILE_RANGE_WRITE)
}
