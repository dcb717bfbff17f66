// Package wholefile writes files that appear whole or not at all: into a
// temporary file beside the target, synced, then moved into place.
package wholefile

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// ErrExists tells that the target is there already and may not be replaced.
var ErrExists = errors.New("the file exists already")

// ErrIsInput tells that the target is one of the files that were read.
var ErrIsInput = errors.New("the output would replace an input")

// Options of a write.
type Options struct {
	Replace bool     // an existing regular file may be replaced
	Inputs  []string // files that were read: never replaced, whatever Replace says
}

// Check tells whether Write could begin: the folder is there, and the target
// is neither an input nor, unless Replace is set, an existing file. It lets a
// long run fail before it starts.
func Check(path string, opt Options) error {
	dir := filepath.Dir(path)
	if st, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: cannot write here: the folder %s is not there (%w); make it first", path, dir, fs.ErrNotExist)
	} else if err != nil {
		return fmt.Errorf("%s: cannot write here: %w", path, Plain(err))
	} else if !st.IsDir() {
		return fmt.Errorf("%s: cannot write here: %s is not a folder", path, dir)
	}
	st, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, Plain(err))
	}
	for _, in := range opt.Inputs {
		if si, err := os.Stat(in); err == nil && os.SameFile(st, si) {
			return fmt.Errorf("%s: %w; name another file", path, ErrIsInput)
		}
	}
	if !st.Mode().IsRegular() {
		return fmt.Errorf("%s: not a regular file; name another file", path)
	}
	if !opt.Replace {
		return fmt.Errorf("%s: %w", path, ErrExists)
	}
	return nil
}

// Write hands fill a buffered writer and moves what it wrote to path. On any
// error, and when ctx ends, nothing of it is left behind and what stood at
// path stays as it was.
func Write(ctx context.Context, path string, opt Options, fill func(io.Writer) error) error {
	if err := Check(path, opt); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".skinstock-*.part")
	if err != nil {
		return fmt.Errorf("%s: cannot write here: %w", path, Plain(err))
	}
	done := keep(ctx, tmp.Name(), os.Remove)
	defer done()
	err = fillFile(ctx, tmp, fill)
	if err == nil {
		err = syncFile(ctx, tmp)
	}
	if err != nil {
		tmp.Close()
		return fmt.Errorf("%s: %w", path, Plain(err))
	}
	if err := place(disk{}, tmp.Name(), path, opt.Replace); err != nil {
		return err
	}
	syncDir(disk{}, filepath.Dir(path))
	return nil
}

// fillFile fills a new file.
func fillFile(ctx context.Context, tmp *os.File, fill func(io.Writer) error) error {
	w := bufio.NewWriterSize(&guarded{ctx: ctx, f: tmp}, 1<<18)
	if err := fill(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	// CreateTemp makes files private; a result is as open as any new file.
	return tmp.Chmod(0o666 &^ umask())
}

// syncFile makes what is in a file last, and closes it.
func syncFile(ctx context.Context, tmp *os.File) error {
	if err := tmp.Sync(); err != nil {
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return ctx.Err()
}

// names are the steps on names that placing a file needs; *os.Root has them too.
type names interface {
	Link(oldname, newname string) error
	Rename(oldname, newname string) error
	Remove(name string) error
	Open(name string) (*os.File, error)
}

// disk is the file system as the process sees it.
type disk struct{}

func (disk) Link(o, n string) error             { return os.Link(o, n) }
func (disk) Rename(o, n string) error           { return os.Rename(o, n) }
func (disk) Remove(n string) error              { return os.Remove(n) }
func (disk) Open(name string) (*os.File, error) { return os.Open(name) }

// place moves the finished file to its name. Without replace a hard link does
// it, since that fails where another process has put a file in the meantime.
func place(on names, tmp, path string, replace bool) error {
	if !replace {
		err := on.Link(tmp, path)
		switch {
		case err == nil:
			_ = on.Remove(tmp)
			return nil
		case errors.Is(err, fs.ErrExist):
			return fmt.Errorf("%s: %w", path, ErrExists)
		}
		// A file system without hard links: the check before has to do.
	}
	if err := on.Rename(tmp, path); err != nil {
		return fmt.Errorf("%s: %w", path, Plain(err))
	}
	return nil
}

// syncDir makes the new names in a folder last through a power loss, where the system can.
func syncDir(on names, dir string) {
	if d, err := on.Open(dir); err == nil {
		_ = d.Sync()
		d.Close()
	}
}

// Plain drops the operation and the path from a file error: the name of a
// temporary file means nothing to the reader.
func Plain(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// startEvery is after how many bytes the system is asked to begin with the disk.
const startEvery = 4 << 20

// guarded stops writing when its context ends. What it wrote is on its way to
// the disk while more is made, so that there is little left to sync.
type guarded struct {
	ctx              context.Context
	f                *os.File
	written, started int64
}

func (g *guarded) Write(p []byte) (int, error) {
	if err := g.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := g.f.Write(p)
	g.written += int64(n)
	if g.written-g.started >= startEvery {
		startSync(g.f, g.started, g.written-g.started)
		g.started = g.written
	}
	return n, err
}
