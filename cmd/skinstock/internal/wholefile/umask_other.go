//go:build !unix

package wholefile

import "io/fs"

func umask() fs.FileMode { return 0o022 }
