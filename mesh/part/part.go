// Package part reads a part from a file: it decodes the format, converts to
// mm, welds and mends, and keeps what a report must say about the input.
package part

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/stl"
)

// Part is a closed, outward-wound mesh with the story of its file.
type Part struct {
	Name      string // as given by the caller, for messages and reports
	SHA256    string // of the file's bytes, hexadecimal
	Format    string // "binary STL", "ASCII STL"
	Header    string // free text of the file; need not be UTF-8
	Triangles int    // facets in the file
	Unit      mesh.Unit

	Mesh     *mesh.Mesh
	Topo     *mesh.Topology
	Shells   []mesh.Shell
	Repairs  *mesh.Repairs
	Findings []finding.Finding // about the file and its mending
}

// Options says how to read.
type Options struct {
	Unit      mesh.Unit // of the file's numbers; the zero value means mm
	WeldTolMM float64   // see mesh.BuildOptions
}

// Read reads a part from r; size is the file's length in bytes, -1 when not
// known. Every error names the part, the place and the cause.
func Read(name string, r io.Reader, size int64, opt Options) (*Part, error) {
	if opt.Unit.MM == 0 {
		opt.Unit, _ = mesh.ParseUnit("mm")
	}
	h := sha256.New()
	in := &hashing{r: r, h: h}
	f, err := stl.Read(in, size, stl.Options{})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if _, err := io.Copy(io.Discard, in); err != nil { // what the reader left, for the digest
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	m, repairs, err := mesh.Build(&f.Soup, mesh.BuildOptions{UnitMM: opt.Unit.MM, WeldTolMM: opt.WeldTolMM})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &Part{
		Name: name, SHA256: hex.EncodeToString(h.Sum(nil)), Format: f.Format.String() + " stl", Header: f.HeaderText(),
		Triangles: len(f.Soup.Corners), Unit: opt.Unit, Mesh: m, Topo: m.Topology(), Repairs: repairs,
	}
	p.Shells = m.Shells(p.Topo)
	p.Findings = append(append(p.Findings, f.Warnings...), repairs.Findings()...)
	lo, hi := m.Bounds()
	if _, doubt, ok := mesh.UnitDoubt(lo, hi, opt.Unit); !ok {
		p.Findings = append(p.Findings, finding.Finding{
			Code: "unit_doubt", Severity: finding.Warning, Message: doubt, Remedy: "give the file's unit with --units",
			SizeMM: hi.Sub(lo).Norm(), Count: 1,
		})
	}
	return p, nil
}

// hashing digests what passes through.
type hashing struct {
	r io.Reader
	h hash.Hash
}

func (h *hashing) Read(b []byte) (int, error) {
	n, err := h.r.Read(b)
	h.h.Write(b[:n])
	return n, err
}
