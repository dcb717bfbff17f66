//go:build unix

package wholefile

import (
	"io/fs"
	"sync"
	"syscall"
)

// umask reads the process's file mode mask, which can only be read by setting it.
var umask = sync.OnceValue(func() fs.FileMode {
	m := syscall.Umask(0o077)
	syscall.Umask(m)
	return fs.FileMode(m)
})
