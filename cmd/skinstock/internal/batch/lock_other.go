//go:build !unix && !windows

package batch

import (
	"errors"
	"os"
)

// flock is not to be had here: runs on one folder at once cannot be told apart.
func flock(*os.File, bool) error {
	return errors.ErrUnsupported
}
