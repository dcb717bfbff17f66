package batch

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// Names inside the output folder. What stands in stateDir is for the program
// itself: locks, files that are not finished, and who made which file.
const (
	resultsName = "results.jsonl"
	summaryName = "summary.csv"
	indexName   = "index.html"
	stateDir    = ".skinstock"
)

var (
	// ErrBusy tells that another run works in the folder.
	ErrBusy = errors.New("another run is working in this folder: wait for it, or use another folder")
	// ErrUsed tells that the folder holds results, and that nobody said what to do about them.
	ErrUsed = errors.New("the folder holds results of an earlier run: go on with --resume, or do all parts anew with --force")

	errBusy = errors.New("locked")
)

// doorWait is how long a run waits for others that start at the same time: many
// tasks of an array on a slow shared disk.
const doorWait = time.Minute

// Mode says what to do about what an earlier run left in the folder.
type Mode int

// Modes of opening a folder.
const (
	Fresh  Mode = iota // the folder must hold no results
	Resume             // finished parts stand, files that an earlier run made may be replaced
	Force              // all parts are done anew, any file may be replaced
)

// Folder is the output folder, held against other runs. Nothing is written
// outside of it, whatever links lie in it.
type Folder struct {
	root  *os.Root
	mode  Mode
	shard Shard
	tmp   string
	locks []*os.File
	held  bool // all locks are taken

	claims *appender
	mu     sync.Mutex
	ours   map[string]bool // files that this or an earlier run has claimed
}

// Open makes the folder if need be and holds it. Two runs cannot hold one
// folder, but for the shares of one batch, each of which is held once.
func Open(dir string, s Shard, m Mode) (*Folder, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("%s: cannot make the output folder: %w", dir, wholefile.Plain(err))
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, wholefile.Plain(err))
	}
	f := &Folder{root: root, mode: m, shard: s, tmp: filepath.Join(stateDir, "unfinished"+s.suffix()), ours: map[string]bool{}}
	if err := f.begin(); err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	return f, nil
}

// begin takes the lock and makes the folder ready.
func (f *Folder) begin() error {
	writable := func(err error) error {
		if err == nil {
			return nil
		}
		return fmt.Errorf("cannot write here: %w", wholefile.Plain(err))
	}
	if err := writable(f.root.MkdirAll(stateDir, 0o777)); err != nil {
		return err
	}
	if err := f.lock(); err != nil {
		return err
	}
	f.held = true
	if f.mode == Fresh {
		if used, err := f.used(); err != nil {
			return err
		} else if used {
			return ErrUsed
		}
	}
	// What a run that was killed left unfinished; no other run uses this folder now.
	if err := writable(f.root.RemoveAll(f.tmp)); err != nil {
		return err
	}
	if err := writable(f.root.MkdirAll(f.tmp, 0o777)); err != nil {
		return err
	}
	return writable(f.readClaims())
}

// lock holds the folder: alone for a whole run; together with the other shares
// of as many, and alone among those of the same number, for a share. Runs that
// start at once do this one by one: while one is about to agree on the count, it
// looks to the others as if it had the folder alone.
func (f *Folder) lock() error {
	door, err := f.root.OpenFile(filepath.Join(stateDir, "door"), os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return fmt.Errorf("cannot write here: %w", wholefile.Plain(err))
	}
	defer door.Close()
	if err := enter(door); err != nil {
		return err
	}
	all, err := f.hold("lock", f.shard.whole())
	if err != nil || f.shard.whole() {
		return err
	}
	if _, err := f.hold("lock"+f.shard.suffix(), true); err != nil {
		return err
	}
	return f.agree(all)
}

// hold opens and locks a file of the state folder.
func (f *Folder) hold(name string, alone bool) (*os.File, error) {
	file, err := f.root.OpenFile(filepath.Join(stateDir, name), os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, fmt.Errorf("cannot write here: %w", wholefile.Plain(err))
	}
	f.locks = append(f.locks, file)
	return file, take(file, alone)
}

// take locks a file or says why it cannot be.
func take(file *os.File, alone bool) error {
	switch err := flock(file, alone); {
	case errors.Is(err, errBusy):
		return ErrBusy
	case err != nil:
		return fmt.Errorf("the folder cannot be locked against other runs (%w): use a file system with locks", err)
	}
	return nil
}

// enter locks a file that others hold for moments only.
func enter(door *os.File) error {
	for end := time.Now().Add(doorWait); ; time.Sleep(5 * time.Millisecond) {
		if err := take(door, true); !errors.Is(err, ErrBusy) || time.Now().After(end) {
			return err
		}
	}
}

// agree checks that the other shares at work, if any, are of as many: shares of
// different counts would do some parts twice. The count stands in the lock file.
func (f *Folder) agree(all *os.File) error {
	mine := strconv.Itoa(f.shard.Count)
	// Only who is alone may change the count: nobody else relies on it then.
	if err := flock(all, true); err == nil {
		if err := all.Truncate(0); err != nil {
			return wholefile.Plain(err)
		}
		if _, err := all.WriteAt([]byte(mine), 0); err != nil {
			return wholefile.Plain(err)
		}
	}
	if err := flock(all, false); err != nil {
		return ErrBusy
	}
	text := make([]byte, 16)
	n, err := all.ReadAt(text, 0)
	if err != nil && err != io.EOF {
		return wholefile.Plain(err)
	}
	if got := string(text[:n]); got != mine {
		return fmt.Errorf("%w (shares of %s are at work, this is one of %s)", ErrBusy, got, mine)
	}
	return nil
}

// used tells whether a run has left results in the folder: for a share, whether
// this share or a whole run has.
func (f *Folder) used() (bool, error) {
	for _, name := range []string{resultsName, f.resultsPath(), f.claimsPath()} {
		st, err := f.root.Stat(name)
		if err == nil && st.Size() > 0 {
			return true, nil
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return false, wholefile.Plain(err)
		}
	}
	return false, nil
}

// resultsPath is the file to which this run adds results.
func (f *Folder) resultsPath() string {
	if f.shard.whole() {
		return resultsName
	}
	return filepath.Join(stateDir, "results"+f.shard.suffix()+".jsonl")
}

// Close gives the folder back.
func (f *Folder) Close() {
	if f.claims != nil {
		f.claims.close()
	}
	if f.held { // or the unfinished files are another run's
		_ = f.root.RemoveAll(f.tmp)
	}
	for _, l := range f.locks {
		l.Close()
	}
	f.root.Close()
}

// claimsPattern matches the files in which runs note the files they are about to write.
const claimsPattern = stateDir + "/claims*"

// readClaims learns which files earlier runs made, and opens this run's own list.
func (f *Folder) readClaims() error {
	names, err := fs.Glob(f.root.FS(), claimsPattern)
	if err != nil {
		return err
	}
	for _, name := range names {
		data, err := f.root.ReadFile(name)
		if err != nil {
			return wholefile.Plain(err)
		}
		lines := bufio.NewScanner(bytes.NewReader(data))
		for lines.Scan() {
			if path, err := strconv.Unquote(lines.Text()); err == nil { // a torn line claims nothing
				f.ours[path] = true
			}
		}
	}
	f.claims, err = openAppender(f.root, f.claimsPath())
	return err
}

func (f *Folder) claimsPath() string { return filepath.Join(stateDir, "claims"+f.shard.suffix()) }

// claim notes that the files are about to be written by this run, before they
// are: a run that goes on after a crash may replace them, and no others.
func (f *Folder) claim(paths []string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	var b strings.Builder
	for _, p := range paths {
		if !f.ours[p] {
			b.WriteString(strconv.Quote(p) + "\n")
		}
	}
	if b.Len() == 0 {
		return nil
	}
	if err := f.claims.add([]byte(b.String())); err != nil {
		return fmt.Errorf("cannot write into the output folder: %w", wholefile.Plain(err))
	}
	for _, p := range paths {
		f.ours[p] = true
	}
	return nil
}

// check tells whether a file could be written.
func (f *Folder) check(path string) error {
	return wholefile.CheckIn(f.root, path, f.options(path))
}

func (f *Folder) options(path string) wholefile.Options {
	f.mu.Lock()
	defer f.mu.Unlock()
	return wholefile.Options{Replace: f.mode == Force || f.mode == Resume && f.ours[path]}
}

// fill writes a file that a part makes, but for its name.
func (f *Folder) fill(ctx context.Context, path string, fill func(io.Writer) error) (*wholefile.Filled, error) {
	return wholefile.FillIn(ctx, f.root, f.tmp, path, f.options(path), fill)
}

// write writes a file of the folder.
func (f *Folder) write(ctx context.Context, path string, opt wholefile.Options, fill func(io.Writer) error) error {
	return wholefile.WriteIn(ctx, f.root, f.tmp, path, opt, fill)
}
