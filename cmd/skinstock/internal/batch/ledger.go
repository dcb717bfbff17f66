package batch

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// maxRecord bounds a line of results: a record has some 2 KiB.
const maxRecord = 1 << 20

// records reads what runs and shares have recorded so far, the last word for
// each part. Lines that a crash tore are passed over: their parts count as not done.
func (f *Folder) records() (map[string]*Record, error) {
	shares, err := fs.Glob(f.root.FS(), stateDir+"/results-*.jsonl")
	if err != nil {
		return nil, err
	}
	slices.Sort(shares)
	out := map[string]*Record{}
	for _, name := range append([]string{resultsName}, shares...) {
		file, err := f.root.Open(filepath.FromSlash(name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, wholefile.Plain(err)
		}
		err = readRecords(file, out)
		file.Close()
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

func readRecords(r io.Reader, into map[string]*Record) error {
	lines := bufio.NewReaderSize(r, 64<<10)
	for {
		line, err := readLine(lines)
		rec := &Record{}
		if json.Unmarshal(line, rec) == nil && rec.Schema == Schema && (rec.Part != "" || rec.PartBytes != nil) {
			into[rec.id()] = rec
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return wholefile.Plain(err)
		}
	}
}

// readLine reads a line of bounded length; longer ones come back empty.
func readLine(r *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		piece, err := r.ReadSlice('\n')
		if len(line) <= maxRecord {
			line = append(line, piece...)
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if len(line) > maxRecord {
			line = nil
		}
		return line, err
	}
}

// intact tells whether the files of a record are there as they were written.
func (f *Folder) intact(rec *Record) bool {
	for i := range rec.Files {
		sum, n, err := f.digest(rec.Files[i].path())
		if err != nil || sum != rec.Files[i].SHA256 || n != rec.Files[i].Bytes {
			return false
		}
	}
	return true
}

func fileDigest(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	h := sha256.New()
	_, err = io.Copy(h, file)
	return hex.EncodeToString(h.Sum(nil)), err
}

func (f *Folder) digest(path string) (sum string, n int64, err error) {
	file, err := f.root.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer file.Close()
	h := sha256.New()
	n, err = io.Copy(h, file)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// jsonLine is a record as one line.
func jsonLine(r *Record) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(r)
	return b.Bytes(), err
}

// Outlet takes the files of one part: it keeps them inside the folder, replaces
// none that is not the batch's own, and notes what was written.
type Outlet struct {
	folder *Folder
	own    []string          // the files that the part may make
	kinds  map[string]string // path, or folder of the report, to kind
	files  []File
	filled []*wholefile.Filled // as many as files, which have their names when they are placed
}

// outlet returns the outlet of a part.
func (f *Folder) outlet(p Part, reportFiles []string) (*Outlet, error) {
	o := &Outlet{folder: f, kinds: map[string]string{}}
	for _, k := range []struct{ kind, path string }{{"output", p.Output}, {"json", *p.JSON}, {"finished", p.Finished}, {"thumbnail", Thumbnail(p)}} {
		if k.path == "" {
			continue
		}
		o.kinds[k.path] = k.kind
		o.own = append(o.own, k.path)
	}
	if p.Report != "" {
		o.kinds[p.Report] = "report"
		for _, name := range reportFiles {
			o.own = append(o.own, filepath.Join(p.Report, name))
		}
	}
	return o, o.check()
}

// check tells whether all files of the part could be written.
func (o *Outlet) check() error {
	for _, path := range o.own {
		if err := o.folder.check(path); err != nil {
			return err
		}
	}
	return nil
}

// Thumbnail is where the small picture of a part for the index page lies: named
// after the output, since one part may be done in several ways.
func Thumbnail(p Part) string {
	if p.Thumbnail == nil || !*p.Thumbnail {
		return ""
	}
	sum := sha256.Sum256([]byte(p.Output))
	return filepath.Join(stateDir, "pictures", hex.EncodeToString(sum[:12])+".png")
}

// Folder makes a folder.
func (o *Outlet) Folder(path string) error {
	return wholefile.Plain(o.folder.root.MkdirAll(path, 0o777))
}

// Write writes a file that appears whole or not at all once the part is done, and notes it.
func (o *Outlet) Write(ctx context.Context, path string, fill func(io.Writer) error) error {
	h := sha256.New()
	var n counter
	filled, err := o.folder.fill(ctx, path, func(w io.Writer) error { return fill(io.MultiWriter(w, h, &n)) })
	if err != nil {
		return err
	}
	kind := o.kinds[path]
	if kind == "" {
		kind = o.kinds[filepath.Dir(path)]
	}
	f := File{Kind: kind, SHA256: hex.EncodeToString(h.Sum(nil)), Bytes: int64(n)}
	f.Path, f.Raw = textAndBytes(path)
	o.files, o.filled = append(o.files, f), append(o.filled, filled)
	return nil
}

// place gives the files their names, so that they last. They are claimed
// first, and looked for before that: what others put there is not ours.
func (o *Outlet) place(ctx context.Context) error {
	err := o.check()
	if err == nil {
		err = o.folder.claim(o.own)
	}
	if err != nil {
		o.drop()
		return err
	}
	n, err := wholefile.Place(ctx, o.filled...)
	o.files = o.files[:n]
	return err
}

// drop removes what was written.
func (o *Outlet) drop() {
	for _, f := range o.filled {
		f.Drop()
	}
	o.files, o.filled = nil, nil
}

type counter int64

func (c *counter) Write(p []byte) (int, error) {
	*c += counter(len(p))
	return len(p), nil
}
