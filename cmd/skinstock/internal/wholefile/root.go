package wholefile

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// ErrOutside tells that a path leads out of the folder that may be written to.
var ErrOutside = errors.New("the path leads out of the output folder")

// CheckIn tells whether WriteIn could begin: path stays inside the root
// whatever links lie on the way, and no file is there unless Replace is set.
func CheckIn(root *os.Root, path string, opt Options) error {
	st, err := root.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("%s: %w", path, inside(err))
	case !st.Mode().IsRegular():
		return fmt.Errorf("%s: not a regular file; name another file", path)
	case !opt.Replace:
		return fmt.Errorf("%s: %w", path, ErrExists)
	}
	return nil
}

// WriteIn is Write inside a root, from which neither ".." nor a link leads out.
// Folders on the way are made; the temporary file lies in tmpDir, which is there.
func WriteIn(ctx context.Context, root *os.Root, tmpDir, path string, opt Options, fill func(io.Writer) error) error {
	if err := CheckIn(root, path, opt); err != nil {
		return err
	}
	if err := root.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return fmt.Errorf("%s: cannot write here: %w", path, inside(err))
	}
	name := filepath.Join(tmpDir, rand.Text()+".part")
	tmp, err := root.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("%s: cannot write here: %w", path, inside(err))
	}
	done := keep(ctx, name, root.Remove)
	defer done()
	if err := fillFile(ctx, tmp, fill); err != nil {
		return fmt.Errorf("%s: %w", path, Plain(err))
	}
	if err := place(root, name, path, opt.Replace); err != nil {
		return inside(err)
	}
	return nil
}

// inside names an escape for what it is; the library's own error for it cannot be compared.
func inside(err error) error {
	if strings.Contains(err.Error(), "path escapes from parent") {
		return ErrOutside
	}
	return Plain(err)
}
