package threemf

import (
	"archive/zip"
	"compress/flate"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"skinstock/mesh/file"
)

// Limits of the archive. Models of triangles shrink to a tenth or a fifth, so
// honest files stay far from the ratio.
const (
	maxEntries = 1 << 16
	maxRatio   = 100
	freeBytes  = 16 << 20 // unpacked at any ratio
)

// archive is the zip file with its entries by name.
type archive struct {
	entries map[string]*zip.File // by lower-case path: part names do not differ in case alone
	budget  int64                // bytes that may still be unpacked
}

func openArchive(r io.ReaderAt, size int64) (*archive, error) {
	if size == 0 {
		return nil, file.Empty()
	}
	var mark [4]byte
	if _, err := r.ReadAt(mark[:min(size, 4)], 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("reading failed: %w", err)
	}
	if string(mark[:2]) != "PK" {
		return nil, &file.Error{Offset: 0, Found: "this is no zip archive, which a 3MF file is", Remedy: file.Export, Err: file.ErrFormat}
	}
	z, err := zip.NewReader(io.NewSectionReader(r, 0, size), size) // a place outside the file reads as its end
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		if errors.Is(err, zip.ErrFormat) || errors.Is(err, zip.ErrAlgorithm) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
			return nil, &file.Error{Offset: -1, Found: "the directory of the archive is missing or damaged", Remedy: file.Copy, Err: file.ErrTruncated}
		}
		return nil, fmt.Errorf("reading failed: %w", err)
	}
	if len(z.File) > maxEntries {
		return nil, hostile("the archive has %d entries", len(z.File))
	}
	a := &archive{entries: make(map[string]*zip.File, len(z.File)), budget: freeBytes + maxRatio*size}
	for _, f := range z.File {
		if !plainPath(strings.TrimSuffix(f.Name, "/")) {
			return nil, hostile("the archive has an entry named %s, which leads out of it", file.Quote([]byte(f.Name)))
		}
		key := strings.ToLower(f.Name)
		if a.entries[key] != nil {
			return nil, hostile("the archive has two entries named %s", file.Quote([]byte(f.Name)))
		}
		a.entries[key] = f
	}
	return a, nil
}

// plainPath tells whether a name is a relative path that stays where it is.
func plainPath(name string) bool {
	return name != "" && !strings.ContainsAny(name, "\\:\x00") && !strings.HasPrefix(name, "/") &&
		path.Clean(name) == name && name != ".." && !strings.HasPrefix(name, "../")
}

func hostile(format string, args ...any) error {
	return &file.Error{Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: file.Export, Err: file.ErrHostile}
}

// resolve returns the entry name for a target as relationships and paths have it.
func resolve(target string) (string, error) {
	name := strings.TrimPrefix(target, "/")
	if !plainPath(name) {
		return "", hostile("a path leads out of the archive: %s", file.Quote([]byte(target)))
	}
	return name, nil
}

// part opens an entry for reading. The returned reader takes from the
// archive's budget; finish reads what is left and checks the check sum.
func (a *archive) part(name string) (*entry, error) {
	f := a.entries[strings.ToLower(name)]
	if f == nil {
		return nil, &file.Error{Offset: -1, Found: fmt.Sprintf("the archive has no %s", file.Plain(name)), Remedy: file.Export, Err: file.ErrSyntax}
	}
	if f.Flags&1 != 0 {
		return nil, &file.Error{Within: f.Name, Offset: -1, Found: "the entry is encrypted", Remedy: "export it without a password", Err: file.ErrUnsupported}
	}
	r, err := f.Open()
	if errors.Is(err, zip.ErrAlgorithm) {
		return nil, &file.Error{Within: f.Name, Offset: -1, Found: fmt.Sprintf("the entry is packed by method %d, only stored and deflated ones are known", f.Method), Remedy: file.Export, Err: file.ErrUnsupported}
	}
	e := &entry{a: a, name: f.Name, r: r}
	if err != nil {
		return nil, e.damage(err)
	}
	return e, nil
}

// entry reads one entry and keeps to the archive's budget.
type entry struct {
	a    *archive
	name string
	r    io.ReadCloser
}

func (e *entry) Read(p []byte) (int, error) {
	if e.a.budget <= 0 {
		return 0, &file.Error{
			Within: e.name, Offset: -1, Err: file.ErrHostile, Remedy: file.Export,
			Found: fmt.Sprintf("the archive unpacks to more than %d times its size", maxRatio),
		}
	}
	n, err := e.r.Read(p[:min(int64(len(p)), e.a.budget)])
	e.a.budget -= int64(n)
	if err != nil && err != io.EOF {
		err = e.damage(err)
	}
	return n, err
}

func (e *entry) close() { _ = e.r.Close() } // nothing was written

// finish reads to the end, where the check sum is compared.
func (e *entry) finish() error {
	_, err := io.Copy(io.Discard, e)
	return err
}

// damage says that the packed bytes are not what was packed.
func (e *entry) damage(err error) error {
	var corrupt flate.CorruptInputError
	if errors.As(err, &corrupt) || errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return &file.Error{Within: e.name, Offset: -1, Found: "the packed data are damaged", Remedy: file.Copy, Err: file.ErrTruncated}
	}
	return fmt.Errorf("%s: reading failed: %w", file.Plain(e.name), err)
}

const (
	relsPath      = "_rels/.rels"
	defaultModel  = "3D/3dmodel.model"
	modelRelation = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	relationsURI  = "http://schemas.openxmlformats.org/package/2006/relationships"
)

// modelPath returns the entry that the package's relationships name as the model.
func (a *archive) modelPath() (string, error) {
	e, err := a.part(relsPath)
	if err != nil {
		if a.entries[strings.ToLower(defaultModel)] != nil && errors.Is(err, file.ErrSyntax) {
			return defaultModel, nil // without relationships, but where everyone puts it
		}
		return "", &file.Error{Offset: -1, Found: "the archive holds no 3MF model", Remedy: file.Export, Err: file.ErrFormat}
	}
	defer e.close()
	x := newXMLReader(e)
	if _, err := x.next(); err != nil { // the root
		return "", within(err, e.name)
	}
	target := ""
	for {
		ok, err := x.child()
		if err != nil {
			return "", within(err, e.name)
		}
		if !ok {
			break
		}
		if string(x.name) == "Relationship" && string(x.attr("Type")) == modelRelation && target == "" {
			target = string(x.attr("Target"))
		}
		if err := x.skip(); err != nil {
			return "", within(err, e.name)
		}
	}
	if target == "" {
		return "", &file.Error{Offset: -1, Found: "the archive names no 3MF model", Remedy: file.Export, Err: file.ErrFormat}
	}
	return resolve(target)
}

// within adds the entry to an error that does not name one.
func within(err error, name string) error {
	var e *file.Error
	if errors.As(err, &e) && e.Within == "" {
		e.Within = name
	}
	return err
}
