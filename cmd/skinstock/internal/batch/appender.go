package batch

import (
	"io"
	"os"
	"sync"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// appender adds whole lines to a file. A line is there whole or not at all:
// what a crash tore off is cut away when the file is opened again, what a full
// disk tore off at once.
type appender struct {
	mu   sync.Mutex
	file *os.File
	size int64 // behind the last whole line
}

func openAppender(root *os.Root, path string) (*appender, error) {
	f, err := root.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, wholefile.Plain(err)
	}
	a := &appender{file: f}
	if a.size, err = wholeLines(f); err == nil {
		err = f.Truncate(a.size)
	}
	if err != nil {
		f.Close()
		return nil, wholefile.Plain(err)
	}
	return a, nil
}

// wholeLines returns the place behind the last line end of a file.
func wholeLines(f *os.File) (int64, error) {
	end, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return 0, err
	}
	b := make([]byte, 4096)
	for end > 0 {
		from := max(0, end-int64(len(b)))
		if _, err := f.ReadAt(b[:end-from], from); err != nil {
			return 0, err
		}
		for i := end - from - 1; i >= 0; i-- {
			if b[i] == '\n' {
				return from + i + 1, nil
			}
		}
		end = from
	}
	return 0, nil
}

// add adds text, which ends with a line end, in one write, and makes it last.
func (a *appender) add(text []byte) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	_, err := a.file.WriteAt(text, a.size)
	if err == nil {
		err = a.file.Sync()
	}
	if err != nil {
		_ = a.file.Truncate(a.size)
		return err
	}
	a.size += int64(len(text))
	return nil
}

func (a *appender) close() { a.file.Close() }
