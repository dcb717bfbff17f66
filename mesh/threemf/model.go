package threemf

import (
	"bytes"
	"math"
	"strings"

	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// role is the type of an object.
type role int

const (
	solid   role = iota // "model" and "surface"
	support             // "support" and "solidsupport": not part of the part
	other               // "other": may not be built
)

// object is a mesh or an assembly of other objects.
type object struct {
	name       string
	role       role
	line       int
	vertices   [][3]float64 // file units
	triangles  [][3]int32
	components []use
	known      bool // has a mesh or components

	// While the build is followed:
	visiting, counted bool
	facets, work      int64 // with those of all components below
	built             bool
}

// use is a component or a build item: an object, placed.
type use struct {
	path string // of the model part, empty for the same one
	id   int64
	at   transform
	line int
}

// model is one model part of the package.
type model struct {
	path     string
	unitMM   float64
	metadata []file.Metadata
	objects  map[int64]*object
	items    []use
	beams    int // beam lattices that the file does not insist on
	foreign  int // elements of other extensions inside objects
}

var units = map[string]float64{
	"micron": 0.001, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000,
}

// parser reads one model part.
type parser struct {
	x     *xmlReader
	m     *model
	limit int // facets
	count *int
}

// readModel reads a model part; count is shared by the parts of a package.
func readModel(x *xmlReader, path string, limit int, count *int) (*model, error) {
	p := &parser{x: x, m: &model{path: path, unitMM: 1, objects: map[int64]*object{}}, limit: limit, count: count}
	if _, err := x.next(); err != nil {
		return nil, err
	}
	if !x.is("model") {
		return nil, x.fail(file.ErrFormat, "the XML begins with %s, a 3MF model with \"model\" of the core namespace", file.Quote(x.name))
	}
	if err := p.root(); err != nil {
		return nil, err
	}
	_, err := x.next() // only the end of the file may follow
	return p.m, err
}

// each calls do for every child of the current element; do must pass the child.
func (p *parser) each(do func() error) error {
	for {
		ok, err := p.x.child()
		if err != nil || !ok {
			return err
		}
		if err := do(); err != nil {
			return err
		}
	}
}

func (p *parser) root() error {
	if u := p.x.attr("unit"); u != nil {
		mm, ok := units[string(u)]
		if !ok {
			return p.x.fail(file.ErrSyntax, "the unit is %s, none of the six of the specification", file.Quote(u))
		}
		p.m.unitMM = mm
	}
	if err := p.required(); err != nil {
		return err
	}
	return p.each(func() error {
		switch {
		case p.x.is("resources"):
			return p.each(func() error {
				if p.x.is("object") {
					return p.object()
				}
				return p.x.skip()
			})
		case p.x.is("build"):
			return p.each(func() error {
				if !p.x.is("item") {
					return p.x.skip()
				}
				u, err := p.use()
				p.m.items = append(p.m.items, u)
				return err
			})
		case p.x.is("metadata"):
			name := string(p.x.attr("name"))
			value, err := p.x.content()
			p.m.metadata = append(p.m.metadata, file.Metadata{Name: name, Value: strings.TrimSpace(value)})
			return err
		}
		return p.x.skip()
	})
}

// required refuses what the file insists on and this reader does not do.
// Properties of materials and sets of triangles change no shape.
func (p *parser) required() error {
	for _, prefix := range bytes.Fields(p.x.attr("requiredextensions")) {
		switch s, ok := p.x.lookup(prefix); {
		case !ok:
			return p.x.fail(file.ErrSyntax, "the required extension %s is not declared", file.Quote(prefix))
		case s == beams:
			e := p.x.fail(file.ErrUnsupported, "the part is a beam lattice").(*file.Error)
			e.Remedy = "export it as triangles"
			return e
		case s != core && s != harmless && s != production:
			e := p.x.fail(file.ErrUnsupported, "the file requires the extension %s, which is not known", file.Quote([]byte(p.x.uri(string(prefix))))).(*file.Error)
			e.Remedy = "export it as plain triangles"
			return e
		}
	}
	return nil
}

func (p *parser) object() error {
	o := &object{name: string(p.x.attr("name")), line: p.x.line()}
	if o.name == "" {
		o.name = string(p.x.attr("partnumber"))
	}
	id, ok := scan.Int(p.x.attr("id"))
	if !ok || id <= 0 {
		return p.x.fail(file.ErrNumber, "an object has the id %s", file.Quote(p.x.attr("id")))
	}
	if p.m.objects[id] != nil {
		return p.x.fail(file.ErrSyntax, "two objects have the id %d", id)
	}
	switch t := p.x.attr("type"); string(t) {
	case "", "model", "surface":
	case "support", "solidsupport":
		o.role = support
	case "other":
		o.role = other
	default:
		return p.x.fail(file.ErrSyntax, "object %d has the type %s", id, file.Quote(t))
	}
	p.m.objects[id] = o
	return p.each(func() error {
		switch {
		case p.x.is("mesh"), p.x.is("components"):
			if o.known {
				return p.x.fail(file.ErrSyntax, "object %d has more than one mesh or list of components", id)
			}
			o.known = true
			if p.x.is("mesh") {
				return p.mesh(o)
			}
			return p.each(func() error {
				if !p.x.is("component") {
					return p.x.skip()
				}
				u, err := p.use()
				o.components = append(o.components, u)
				return err
			})
		}
		p.note()
		return p.x.skip()
	})
}

// note counts an element of an extension that shapes the part.
func (p *parser) note() {
	switch p.x.space {
	case beams:
		p.m.beams++
	case otherSpace:
		p.m.foreign++
	}
}

func (p *parser) mesh(o *object) error {
	return p.each(func() error {
		switch {
		case p.x.is("vertices"):
			return p.each(func() error { return p.vertex(o) })
		case p.x.is("triangles"):
			return p.each(func() error { return p.triangle(o) })
		}
		p.note()
		return p.x.skip()
	})
}

func (p *parser) vertex(o *object) error {
	if !p.x.is("vertex") {
		return p.x.skip()
	}
	var v [3]float64
	seen := 0
	for _, a := range p.x.attrs {
		if len(a.prefix) > 0 || len(a.name) != 1 || a.name[0] < 'x' || a.name[0] > 'z' {
			continue
		}
		f, ok := scan.Float64(a.value)
		if !ok {
			return p.x.fail(file.ErrNumber, "%s of a vertex is %s", a.name, file.Quote(a.value))
		}
		if f-f != 0 {
			return p.x.fail(file.ErrNotFinite, "%s of a vertex is %s, not a finite number", a.name, file.Quote(a.value))
		}
		v[a.name[0]-'x'] = f
		seen++
	}
	if seen != 3 { // none can be there twice
		return p.x.fail(file.ErrSyntax, "a vertex has %d of its 3 coordinates", seen)
	}
	if len(o.vertices) == math.MaxInt32 {
		return p.x.fail(file.ErrTooLarge, "an object has more than %d vertices", math.MaxInt32)
	}
	o.vertices = append(o.vertices, v)
	return p.x.skip()
}

func (p *parser) triangle(o *object) error {
	if !p.x.is("triangle") {
		return p.x.skip()
	}
	var t [3]int32
	seen := 0
	for _, a := range p.x.attrs {
		if len(a.prefix) > 0 || len(a.name) != 2 || a.name[0] != 'v' || a.name[1] < '1' || a.name[1] > '3' {
			continue
		}
		i, ok := scan.Int(a.value)
		if !ok {
			return p.x.fail(file.ErrNumber, "%s of a triangle is %s", a.name, file.Quote(a.value))
		}
		if i < 0 || i >= int64(len(o.vertices)) {
			return p.x.fail(file.ErrIndex, "a triangle uses vertex %d of %d, counted from 0", i, len(o.vertices))
		}
		t[a.name[1]-'1'] = int32(i)
		seen++
	}
	if seen != 3 {
		return p.x.fail(file.ErrVertexCount, "a triangle has %d of its 3 corners", seen)
	}
	if *p.count++; *p.count > p.limit {
		return p.x.fail(file.ErrTooLarge, "more than %d facets, the limit set for one part", p.limit)
	}
	o.triangles = append(o.triangles, t)
	return p.x.skip()
}

// use reads a component or an item, and passes it.
func (p *parser) use() (use, error) {
	u := use{at: identity, line: p.x.line(), path: string(p.x.attrIn(production, "path"))}
	id, ok := scan.Int(p.x.attr("objectid"))
	if !ok {
		return u, p.x.fail(file.ErrNumber, "the objectid is %s", file.Quote(p.x.attr("objectid")))
	}
	u.id = id
	if t := p.x.attr("transform"); t != nil {
		if u.at, ok = parseTransform(t); !ok {
			return u, p.x.fail(file.ErrNumber, "a transform is not 12 finite numbers that keep a volume: %s", file.Quote(t))
		}
	}
	return u, p.x.skip()
}
