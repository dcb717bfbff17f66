package threemf

import (
	"fmt"
	"io"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/finding"
)

// Options says how to read.
type Options struct {
	MaxFacets int // refuses files that build more facets; 0 means file.MaxFacets
}

// Codes of the findings.
const (
	CodeSupports = "supports_left_out"     // support objects in the build
	CodeBeams    = "beam_lattice_left_out" // beam lattices that the file does not insist on
	CodeForeign  = "extension_left_out"    // elements of unknown extensions inside objects
	CodeUnbuilt  = "objects_not_in_build"  // objects that no item reaches
)

// Limits of the build.
const (
	maxNesting = 64      // components inside components
	freeWork   = 1 << 20 // facets and vertices that components may make of any file
	maxRepeats = 256     // beyond that, how often they may repeat what the file stores
)

// Read reads a 3MF file of the given size. Every error on account of the
// file's content is a *file.Error.
func Read(r io.ReaderAt, size int64, opt Options) (*file.Part, error) {
	if opt.MaxFacets <= 0 || opt.MaxFacets > file.MaxFacets {
		opt.MaxFacets = file.MaxFacets
	}
	a, err := openArchive(r, size)
	if err != nil {
		return nil, err
	}
	root, err := a.modelPath()
	if err != nil {
		return nil, err
	}
	b := &build{a: a, opt: opt, models: map[string]*model{}}
	if err := b.run(root); err != nil {
		return nil, err
	}
	return b.part, nil
}

// build follows the items of the root model.
type build struct {
	a       *archive
	opt     Options
	root    *model
	models  map[string]*model
	order   []*model // as they were read
	stored  int      // facets stored in all models
	storage int64    // facets and vertices stored in all models

	part     *file.Part
	supports int
	moved    [][3]float32
}

// model returns a model part, read on first use.
func (b *build) model(path string) (*model, error) {
	if m := b.models[path]; m != nil {
		return m, nil
	}
	e, err := b.a.part(path)
	if err != nil {
		return nil, err
	}
	defer e.close()
	m, err := readModel(newXMLReader(e), e.name, b.opt.MaxFacets, &b.stored)
	if err == nil {
		err = e.finish()
	}
	if err != nil {
		return nil, within(err, e.name)
	}
	b.models[path] = m
	for _, o := range m.objects {
		b.storage += int64(len(o.triangles) + len(o.vertices)) // a sum: the order does not matter
	}
	b.order = append(b.order, m)
	return m, nil
}

func (b *build) run(path string) error {
	m, err := b.model(path)
	if err != nil {
		return err
	}
	b.root = m
	if len(m.items) == 0 {
		return &file.Error{Within: m.path, Offset: -1, Found: "the build has no items, so nothing is to be made", Remedy: file.Export, Err: file.ErrNoFacets}
	}
	var facets, work int64
	for _, u := range m.items {
		o, err := b.count(m, u, 0)
		if err != nil {
			return within(err, m.path)
		}
		facets, work = facets+o.facets, work+o.work
		if facets > int64(b.opt.MaxFacets) || work > b.allowed() {
			return b.tooMany(u)
		}
	}
	b.part = &file.Part{Format: file.ThreeMF, UnitMM: m.unitMM, Metadata: m.metadata}
	b.part.Soup.Corners = make([][3][3]float32, 0, facets)
	for _, u := range m.items {
		if err := b.place(m, u, &identity, "", 1); err != nil {
			return within(err, m.path)
		}
	}
	return b.finish()
}

// allowed is how many facets and vertices the build may place.
func (b *build) allowed() int64 { return max(freeWork, maxRepeats*b.storage) }

func (b *build) tooMany(u use) error {
	return &file.Error{
		Within: b.root.path, Line: u.line, Offset: -1, Err: file.ErrTooLarge, Remedy: "raise the limit, or build fewer copies",
		Found: fmt.Sprintf("the items make too much of the %d facets in the file", b.stored),
	}
}

// find returns the object that is used, and the model part it is in.
func (b *build) find(m *model, u use) (*model, *object, error) {
	if u.path != "" {
		name, err := resolve(u.path)
		if err != nil {
			return nil, nil, err
		}
		if m, err = b.model(name); err != nil {
			return nil, nil, err
		}
		if m.unitMM != b.root.unitMM {
			return nil, nil, &file.Error{Line: u.line, Offset: -1, Found: fmt.Sprintf("%s has another unit than the build", file.Plain(m.path)), Remedy: file.Export, Err: file.ErrUnsupported}
		}
	}
	o := m.objects[u.id]
	if o == nil {
		return nil, nil, &file.Error{Line: u.line, Offset: -1, Found: fmt.Sprintf("there is no object %d", u.id), Remedy: file.Export, Err: file.ErrIndex}
	}
	return m, o, nil
}

// count returns the object that is used with its facets and work counted, all
// components included. It finds circles.
func (b *build) count(m *model, u use, depth int) (*object, error) {
	in, o, err := b.find(m, u)
	if err != nil {
		return nil, err
	}
	switch {
	case o.counted:
		return o, nil
	case o.visiting:
		return nil, &file.Error{Line: u.line, Offset: -1, Found: fmt.Sprintf("object %d is a component of itself", u.id), Remedy: file.Export, Err: file.ErrHostile}
	case depth == maxNesting:
		return nil, &file.Error{Line: u.line, Offset: -1, Found: fmt.Sprintf("components are nested more than %d deep", maxNesting), Remedy: file.Export, Err: file.ErrHostile}
	case !o.known:
		return nil, within(&file.Error{Line: o.line, Offset: -1, Found: fmt.Sprintf("object %d has neither a mesh nor components that are known", u.id), Remedy: "export it as plain triangles", Err: file.ErrUnsupported}, in.path)
	}
	o.visiting = true
	o.facets = int64(len(o.triangles))
	o.work = int64(1 + len(o.triangles) + len(o.vertices)) // so that empty objects cannot be multiplied either
	for _, c := range o.components {
		k, err := b.count(in, c, depth+1)
		if err != nil {
			return nil, within(err, in.path)
		}
		const enough = 1 << 40 // to be refused
		o.facets, o.work = min(o.facets+k.facets, enough), min(o.work+k.work, enough)
	}
	o.visiting, o.counted = false, true
	return o, nil
}

// place adds the meshes of a use to the part. The name is that of the object
// above, for objects without one.
func (b *build) place(m *model, u use, above *transform, name string, depth int) error {
	m, o, err := b.find(m, u)
	if err != nil {
		return err
	}
	o.built = true
	if o.name != "" {
		name = o.name
	}
	if o.role == support {
		b.supports++
		return nil
	}
	if o.role == other && depth == 1 {
		return &file.Error{Line: u.line, Offset: -1, Found: fmt.Sprintf("object %d has the type \"other\", which may not be built", u.id), Remedy: file.Export, Err: file.ErrSyntax}
	}
	at := u.at.then(above)
	for _, c := range o.components {
		if err := b.place(m, c, &at, name, depth+1); err != nil {
			return within(err, m.path)
		}
	}
	return within(b.add(o, &at, name), m.path)
}

// add adds a mesh as a body. A mirror turns every facet round again.
func (b *build) add(o *object, at *transform, name string) error {
	if len(o.triangles) == 0 {
		return nil
	}
	b.moved = b.moved[:0]
	for i, v := range o.vertices {
		q := at.apply(v)
		p := [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
		if !finite(p) {
			return &file.Error{Line: o.line, Offset: -1, Found: fmt.Sprintf("vertex %d of an object lies at %v, beyond single precision", i, q), Remedy: file.Export, Err: file.ErrNotFinite}
		}
		b.moved = append(b.moved, p)
	}
	s := &b.part.Soup
	s.Solids = append(s.Solids, mesh.Solid{Name: name, First: len(s.Corners), Count: len(o.triangles)})
	mirrored := at.determinant() < 0
	for _, t := range o.triangles {
		if mirrored {
			t[1], t[2] = t[2], t[1]
		}
		s.Corners = append(s.Corners, [3][3]float32{b.moved[t[0]], b.moved[t[1]], b.moved[t[2]]})
	}
	return nil
}

// finish says what was left out.
func (b *build) finish() error {
	p := b.part
	if len(p.Soup.Corners) == 0 {
		return &file.Error{Within: b.root.path, Offset: -1, Found: "the items of the build hold no triangles", Remedy: file.Export, Err: file.ErrNoFacets}
	}
	if s := p.Soup.Solids; len(s) == 1 && s[0].Name == "" {
		p.Soup.Solids = nil
	}
	lattices, foreign, unbuilt := 0, 0, 0
	for _, m := range b.order {
		lattices += m.beams
		foreign += m.foreign
		for _, o := range m.objects { // a count: the order does not matter
			if !o.built && o.role == solid {
				unbuilt++
			}
		}
	}
	note := func(severity finding.Severity, code string, n int, format string) {
		if n > 0 {
			p.Note(severity, code, n, fmt.Sprintf(format, n))
		}
	}
	note(finding.Info, CodeSupports, b.supports, "support objects are left out: %d")
	note(finding.Warning, CodeBeams, lattices, "beam lattices are left out: %d")
	note(finding.Warning, CodeForeign, foreign, "elements of unknown extensions are left out: %d")
	note(finding.Info, CodeUnbuilt, unbuilt, "objects that no item of the build uses are left out: %d")
	return nil
}
