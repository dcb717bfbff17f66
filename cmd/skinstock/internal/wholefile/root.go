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
	f, err := FillIn(ctx, root, tmpDir, path, opt, fill)
	if err != nil {
		return err
	}
	_, err = Place(ctx, f)
	return err
}

// Filled is a file that is written but for what waits for the disk: Place gives
// it its name, or Drop removes it.
type Filled struct {
	root    *os.Root
	tmp     *os.File
	name    string // of tmp, in the root
	path    string
	replace bool
	done    func() // removes what is there under name
}

// FillIn is the first half of WriteIn.
func FillIn(ctx context.Context, root *os.Root, tmpDir, path string, opt Options, fill func(io.Writer) error) (*Filled, error) {
	if err := CheckIn(root, path, opt); err != nil {
		return nil, err
	}
	if err := root.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return nil, fmt.Errorf("%s: cannot write here: %w", path, inside(err))
	}
	name := filepath.Join(tmpDir, rand.Text()+".part")
	tmp, err := root.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot write here: %w", path, inside(err))
	}
	f := &Filled{root: root, tmp: tmp, name: name, path: path, replace: opt.Replace, done: keep(ctx, name, root.Remove)}
	if err := fillFile(ctx, tmp, fill); err != nil {
		f.Drop()
		return nil, fmt.Errorf("%s: %w", path, Plain(err))
	}
	return f, nil
}

// Drop removes the file, unless it has its name.
func (f *Filled) Drop() {
	f.tmp.Close()
	f.done()
}

// Place is the second half of WriteIn for files of one root, in their order. It
// returns how many have their names; when it fails the others are removed.
func Place(ctx context.Context, files ...*Filled) (placed int, err error) {
	defer func() {
		for _, f := range files {
			f.Drop()
		}
	}()
	for _, f := range files {
		if err := syncFile(ctx, f.tmp); err != nil {
			return 0, fmt.Errorf("%s: %w", f.path, Plain(err))
		}
	}
	for placed < len(files) && err == nil {
		f := files[placed]
		if err = place(f.root, f.name, f.path, f.replace); err == nil {
			placed++
		}
	}
	synced := map[string]bool{}
	for _, f := range files[:placed] {
		if dir := filepath.Dir(f.path); !synced[dir] {
			syncDir(f.root, dir)
			synced[dir] = true
		}
	}
	return placed, inside(err)
}

// inside names an escape for what it is; the library's own error for it cannot be compared.
func inside(err error) error {
	if err != nil && strings.Contains(err.Error(), "path escapes from parent") {
		return ErrOutside
	}
	return Plain(err)
}
