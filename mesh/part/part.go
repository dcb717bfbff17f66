// Package part reads a part from a file: it decodes the format, converts to
// mm, welds and mends, and keeps what a report must say about the input.
package part

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/finding"
	"skinstock/mesh/load"
)

// ErrUnit says that the unit asked for is not the one the file itself states.
var ErrUnit = errors.New("the file states its own unit")

// Part is a closed, outward-wound mesh with the story of its file.
type Part struct {
	Name      string // as given by the caller, for messages and reports
	SHA256    string // of the file's bytes, hexadecimal
	Format    string // one of the formats of mesh/file
	Header    string // free text of the file; need not be UTF-8
	Triangles int    // facets in the file
	Unit      mesh.Unit

	Mesh     *mesh.Mesh
	Topo     *mesh.Topology
	Around   *mesh.Incidence // nil where the mesh was mended
	Shells   []mesh.Shell    // without the lists of their facets
	Repairs  *mesh.Repairs
	Findings []finding.Finding // about the file and its mending

	once     sync.Once
	measures mesh.Measures
}

// Measures returns those of Mesh, worked out once.
func (p *Part) Measures() mesh.Measures {
	p.once.Do(func() {
		if len(p.Shells) != 1 {
			p.measures = p.Mesh.Measures()
			return
		}
		s := &p.Shells[0] // all of the mesh, measured already
		p.measures = mesh.Measures{Lo: s.Lo, Hi: s.Hi, AreaMM2: s.AreaMM2, VolumeMM3: s.VolumeMM3}
	})
	return p.measures
}

// Options says how to read.
type Options struct {
	Unit      mesh.Unit // of the file's numbers; the zero value takes the file's own, or mm where it states none
	WeldTolMM float64   // see mesh.BuildOptions
}

// Read reads a part from r; size is the file's length in bytes, -1 when not
// known. Every error names the part, the place and the cause.
func Read(name string, r io.Reader, size int64, opt Options) (*Part, error) {
	fail := func(err error) (*Part, error) { return nil, fmt.Errorf("%s: %w", name, err) }
	in := readAhead(r)
	defer in.stop()
	weld := mesh.NewWelder()
	defer weld.Stop()
	f, err := load.Read(in, size, load.Options{Welder: weld})
	if err != nil {
		return fail(err)
	}
	if _, err := io.Copy(io.Discard, in); err != nil { // what the reader left, for the digest
		return fail(err)
	}
	unit, err := unitOf(f, opt.Unit)
	if err != nil {
		return fail(err)
	}
	soup := f.Soup
	f.Soup = mesh.Soup{} // its memory is free once the corners are welded
	triangles := soup.Len()
	b, err := mesh.BuildWhole(&soup, mesh.BuildOptions{UnitMM: unit.MM, WeldTolMM: opt.WeldTolMM, Welder: weld})
	if err != nil {
		return fail(err)
	}
	for i := range b.Shells {
		b.Shells[i].Facets = nil
	}
	p := &Part{
		Name: name, SHA256: hex.EncodeToString(in.sum()), Format: f.Format, Header: f.Header,
		Triangles: triangles, Unit: unit, Mesh: b.Mesh, Topo: b.Topo, Around: b.Around, Shells: b.Shells, Repairs: b.Repairs,
	}
	p.Findings = append(append(p.Findings, f.Findings...), b.Repairs.Findings()...)
	p.doubtUnit()
	return p, nil
}

// unitOf settles the unit between the file's own word and the caller's.
func unitOf(f *file.Part, asked mesh.Unit) (mesh.Unit, error) {
	own := mesh.Unit{Name: "mm", MM: 1}
	if f.UnitMM > 0 {
		own = mesh.Unit{Name: fmt.Sprintf("%g mm", f.UnitMM), MM: f.UnitMM}
		for _, u := range mesh.Units() {
			if u.MM == f.UnitMM {
				own = u
			}
		}
	}
	switch {
	case asked.MM == 0:
		return own, nil
	case f.UnitMM > 0 && math.Abs(asked.MM-own.MM) > 1e-9*own.MM:
		return own, fmt.Errorf("%w, %s: leave --units away", ErrUnit, own.Name)
	}
	return asked, nil
}

func (p *Part) doubtUnit() {
	b := p.Measures()
	_, doubt, ok := mesh.UnitDoubt(b.Lo, b.Hi, p.Unit)
	if ok {
		return
	}
	p.Findings = append(p.Findings, finding.Finding{
		Code: "unit_doubt", Severity: finding.Warning, Message: doubt, Remedy: "give the file's unit with --units",
		SizeMM: b.Hi.Sub(b.Lo).Norm(), Count: 1,
	})
}
