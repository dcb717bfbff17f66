//go:build unix

package batch

import (
	"errors"
	"os"
	"syscall"
)

// flock takes the lock of a file, shared by many or by one alone. The system
// gives it back when the process ends, however it ends.
func flock(f *os.File, alone bool) error {
	how := syscall.LOCK_SH
	if alone {
		how = syscall.LOCK_EX
	}
	for {
		err := syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB)
		switch {
		case errors.Is(err, syscall.EWOULDBLOCK):
			return errBusy
		case errors.Is(err, syscall.EINTR):
			continue
		}
		return err
	}
}
