package load

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
	"skinstock/mesh/obj"
	"skinstock/mesh/off"
	"skinstock/mesh/ply"
	"skinstock/mesh/stl"
	"skinstock/mesh/threemf"
)

// Options says how to read.
type Options struct {
	MaxFacets int // refuses files with more facets; 0 means file.MaxFacets

	// Welder takes the first facets while the rest is read, where the format
	// allows it: see stl.Options.
	Welder *mesh.Welder
}

// headSize is how much of a file is looked at: enough for the comments that
// some programs begin a file with.
const headSize = 64 << 10

// Read reads a part file from its start. The size in bytes is -1 when it is
// not known, as on a pipe; when it is given it must be the true one. A 3MF
// file is read in place when r is an io.ReaderAt of known size, and taken into
// memory otherwise. Every error on account of the file's content is a
// *file.Error, which does not name the file.
func Read(r io.Reader, size int64, opt Options) (*file.Part, error) {
	buffered := bufio.NewReaderSize(r, headSize)
	head, err := buffered.Peek(headSize)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("reading failed: %w", err)
	}
	if err := knownForeign(head); err != nil {
		return nil, err
	}
	switch judge(head) {
	case file.ThreeMF:
		return readThreeMF(r, buffered, size, threemf.Options{MaxFacets: opt.MaxFacets})
	case file.PLY:
		return ply.Read(buffered, size, ply.Options{MaxFacets: opt.MaxFacets})
	case file.OFF:
		return off.Read(buffered, size, off.Options{MaxFacets: opt.MaxFacets})
	case file.OBJ:
		return obj.Read(buffered, size, obj.Options{MaxFacets: opt.MaxFacets})
	}
	f, err := stl.Read(buffered, size, stl.Options(opt))
	if e := (*file.Error)(nil); errors.As(err, &e) && e.Err == file.ErrFormat && e.Remedy == file.Export && e.Line > 0 {
		e.Remedy = asTriangles // a text of another kind
	}
	if err != nil {
		return nil, err
	}
	return f.Part(), nil
}

func readThreeMF(r io.Reader, buffered *bufio.Reader, size int64, opt threemf.Options) (*file.Part, error) {
	if at, ok := r.(io.ReaderAt); ok && size >= 0 {
		return threemf.Read(at, size, opt)
	}
	data, err := io.ReadAll(buffered)
	if err != nil {
		return nil, fmt.Errorf("reading failed: %w", err)
	}
	return threemf.Read(bytes.NewReader(data), int64(len(data)), opt)
}

// judge returns the format that a file's first bytes show; what shows none is
// left to the STL reader, whose binary form begins with free text.
func judge(head []byte) string {
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("PK\x05\x06")) {
		return file.ThreeMF
	}
	for _, end := range []string{"\n", "\r"} {
		if bytes.HasPrefix(head, []byte("ply"+end)) {
			return file.PLY
		}
	}
	// A binary STL file may begin with any word, but it has zero bytes early on: see the STL reader.
	if bytes.IndexByte(head[:min(len(head), 512)], 0) >= 0 {
		return file.STLBinary
	}
	text := bytes.TrimPrefix(head, []byte("\xEF\xBB\xBF"))
	w, err := scan.New(bytes.NewReader(text), int64(len(text))).Word()
	if err != nil {
		return file.STLASCII
	}
	switch string(w) {
	case "OFF", "COFF", "NOFF", "CNOFF", "STOFF", "STCOFF", "STNOFF", "STCNOFF", "4OFF":
		return file.OFF
	case "v", "vn", "vt", "vp", "f", "o", "g", "s", "l", "p", "mtllib", "usemtl", "mg", "cstype":
		return file.OBJ
	}
	return file.STLASCII
}
