package threemf

import (
	"archive/zip"
	"bufio"
	"compress/flate"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"skinstock/mesh"
	"skinstock/mesh/file"
)

// WriteOptions says what to write beside the triangles.
type WriteOptions struct {
	// Metadata names are those of the core specification (Title, Designer,
	// Description, Copyright, LicenseTerms, Rating, Application) or carry a
	// prefix that NamespaceURIs declares. Dates are not written unasked.
	Metadata []file.Metadata

	// NamespaceURIs declares prefixes of metadata names.
	NamespaceURIs []Namespace

	// BodyOf is the body of every facet, 0 to len(Bodies)-1; nil means the
	// solids of the mesh. Each body with facets becomes an object and an item.
	BodyOf []int32
	Bodies []string // names; may be empty strings

	// ColourOf is the colour of every facet, a number in Colours; nil means none.
	ColourOf []uint8
	Colours  [][3]uint8 // sRGB
}

// Namespace is a prefix with the name it stands for.
type Namespace struct{ Prefix, URI string }

// level of compression: a tenth larger than at the default of 6, in four fifths of the time.
const level = 4

// epoch is the first day a zip archive can name. It stands on all entries, so
// that the same part gives the same bytes.
var epoch = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

const contentTypes = `<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
 <Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
 <Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
`

const relationships = `<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="` + relationsURI + `">
 <Relationship Id="rel0" Type="` + modelRelation + `" Target="/` + defaultModel + `"/>
</Relationships>
`

// Write writes a 3MF file in millimetres, coordinates rounded to single
// precision. It returns an error for a facet that uses a vertex twice, which
// the format forbids, and for coordinates that are not finite.
func Write(w io.Writer, m *mesh.Mesh, opt WriteOptions) error {
	bodies, names, err := opt.bodies(m)
	if err != nil {
		return err
	}
	if err := opt.check(m); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, level) })
	for _, e := range []struct{ name, text string }{{"[Content_Types].xml", contentTypes}, {relsPath, relationships}} {
		if err := entryOf(z, e.name, func(w io.Writer) error { _, err := io.WriteString(w, e.text); return err }); err != nil {
			return err
		}
	}
	err = entryOf(z, defaultModel, func(w io.Writer) error {
		x := &modelWriter{w: bufio.NewWriterSize(w, 64<<10), m: m, opt: opt}
		return x.model(bodies, names)
	})
	if err != nil {
		return err
	}
	return z.Close()
}

func entryOf(z *zip.Writer, name string, write func(io.Writer) error) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: epoch})
	if err != nil {
		return err
	}
	return write(w)
}

// bodies returns the facets of every body.
func (o *WriteOptions) bodies(m *mesh.Mesh) (bodies [][]int32, names []string, err error) {
	of, names := o.BodyOf, o.Bodies
	if of == nil {
		if of, names, err = solidsOf(m); err != nil {
			return nil, nil, err
		}
	}
	if len(of) != len(m.Facets) {
		return nil, nil, fmt.Errorf("bodies of %d facets for %d", len(of), len(m.Facets))
	}
	bodies = make([][]int32, len(names))
	for f, b := range of {
		if b < 0 || int(b) >= len(bodies) {
			return nil, nil, fmt.Errorf("facet %d is of body %d, there are %d", f, b, len(bodies))
		}
		bodies[b] = append(bodies[b], int32(f))
	}
	return bodies, names, nil
}

// solidsOf returns the solid of every facet. Facets in none are a nameless body behind them.
func solidsOf(m *mesh.Mesh) (of []int32, names []string, err error) {
	of = make([]int32, len(m.Facets))
	for f := range of {
		of[f] = int32(len(m.Solids))
	}
	for i, s := range m.Solids {
		if s.First < 0 || s.Count < 0 || s.First+s.Count > len(of) {
			return nil, nil, fmt.Errorf("solid %q: facets %d to %d of %d", s.Name, s.First, s.First+s.Count, len(of))
		}
		for f := s.First; f < s.First+s.Count; f++ {
			of[f] = int32(i)
		}
		names = append(names, s.Name)
	}
	return of, append(names, ""), nil
}

// check refuses what would not be a valid file.
func (o *WriteOptions) check(m *mesh.Mesh) error {
	if o.ColourOf != nil && len(o.ColourOf) != len(m.Facets) {
		return fmt.Errorf("%d colours for %d facets", len(o.ColourOf), len(m.Facets))
	}
	for f, c := range o.ColourOf {
		if int(c) >= len(o.Colours) {
			return fmt.Errorf("facet %d has colour %d of %d", f, c, len(o.Colours))
		}
	}
	for f, t := range m.Facets {
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			return fmt.Errorf("facet %d uses a vertex twice, which 3MF forbids", f)
		}
	}
	for i, v := range m.Vertices {
		if !finite([3]float32{float32(v.X), float32(v.Y), float32(v.Z)}) {
			return fmt.Errorf("vertex %d is not finite in single precision", i)
		}
	}
	known := map[string]bool{"Title": true, "Designer": true, "Description": true, "Copyright": true, "LicenseTerms": true, "Rating": true, "CreationDate": true, "ModificationDate": true, "Application": true}
	seen := map[string]bool{}
	for _, n := range o.NamespaceURIs {
		if n.Prefix == "" || n.Prefix == "m" || n.Prefix == "xml" || n.Prefix == "xmlns" || n.URI == "" || strings.ContainsAny(n.Prefix, ":<>&\"'=/ \t\r\n") {
			return fmt.Errorf("the prefix %q cannot be declared", n.Prefix)
		}
		known[n.Prefix+":"] = true
	}
	for _, d := range o.Metadata {
		prefix, _, cut := strings.Cut(d.Name, ":")
		if !known[d.Name] && !(cut && known[prefix+":"]) {
			return fmt.Errorf("metadata %q: not a name of the specification, and no declared prefix", d.Name)
		}
		if seen[d.Name] {
			return fmt.Errorf("metadata %q is given twice", d.Name)
		}
		seen[d.Name] = true
	}
	return nil
}

// modelWriter writes the model part. Errors stick in the buffered writer.
type modelWriter struct {
	w   *bufio.Writer
	m   *mesh.Mesh
	opt WriteOptions
	buf []byte
}

func (x *modelWriter) put(parts ...string) {
	for _, p := range parts {
		_, _ = x.w.WriteString(p) // the error comes back from Flush
	}
}

func (x *modelWriter) model(bodies [][]int32, names []string) error {
	x.put("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en\" xmlns=\"", coreURI, "\"")
	if x.opt.ColourOf != nil {
		x.put(" xmlns:m=\"", materialURI, "\"")
	}
	for _, n := range x.opt.NamespaceURIs {
		x.put(" xmlns:", n.Prefix, "=\"", escape(n.URI), "\"")
	}
	x.put(">\n")
	for _, d := range x.opt.Metadata {
		x.put(" <metadata name=\"", escape(d.Name), "\">", escape(d.Value), "</metadata>\n")
	}
	x.put(" <resources>\n")
	const colours = 1 // id of the colour group; objects follow
	if x.opt.ColourOf != nil {
		x.put("  <m:colorgroup id=\"1\">\n")
		for _, c := range x.opt.Colours {
			x.put(fmt.Sprintf("   <m:color color=\"#%02X%02X%02X\"/>\n", c[0], c[1], c[2]))
		}
		x.put("  </m:colorgroup>\n")
	}
	local := make([]int32, len(x.m.Vertices)) // number in the object + 1, of the object in whose turn it was set
	owner := make([]int32, len(x.m.Vertices))
	for b, facets := range bodies {
		if len(facets) > 0 {
			x.object(int32(colours+1+b), names[b], facets, local, owner)
		}
	}
	x.put(" </resources>\n <build>\n")
	for b, facets := range bodies {
		if len(facets) > 0 {
			x.put("  <item objectid=\"", strconv.Itoa(colours+1+b), "\"/>\n")
		}
	}
	x.put(" </build>\n</model>\n")
	return x.w.Flush()
}

// object writes one body with vertices numbered in the order of use.
func (x *modelWriter) object(id int32, name string, facets, local, owner []int32) {
	x.put("  <object id=\"", strconv.Itoa(int(id)), "\" type=\"model\"")
	if name != "" {
		x.put(" name=\"", escape(name), "\"")
	}
	if x.opt.ColourOf != nil {
		x.put(" pid=\"1\" pindex=\"", strconv.Itoa(int(x.opt.ColourOf[facets[0]])), "\"")
	}
	x.put(">\n   <mesh>\n    <vertices>\n")
	n := int32(0)
	for _, f := range facets {
		for _, v := range x.m.Facets[f] {
			if owner[v] == id {
				continue
			}
			owner[v], local[v] = id, n
			n++
			p := x.m.Vertices[v]
			x.number("     <vertex x=\"", p.X)
			x.number("\" y=\"", p.Y)
			x.number("\" z=\"", p.Z)
			x.put("\"/>\n")
		}
	}
	x.put("    </vertices>\n    <triangles>\n")
	for _, f := range facets {
		t := x.m.Facets[f]
		x.index("     <triangle v1=\"", local[t[0]])
		x.index("\" v2=\"", local[t[1]])
		x.index("\" v3=\"", local[t[2]])
		if x.opt.ColourOf != nil {
			x.index("\" pid=\"1\" p1=\"", int32(x.opt.ColourOf[f]))
		}
		x.put("\"/>\n")
	}
	x.put("    </triangles>\n   </mesh>\n  </object>\n")
}

func (x *modelWriter) number(before string, v float64) {
	x.buf = strconv.AppendFloat(append(x.buf[:0], before...), float64(float32(v)), 'g', -1, 32)
	_, _ = x.w.Write(x.buf)
}

func (x *modelWriter) index(before string, v int32) {
	x.buf = strconv.AppendInt(append(x.buf[:0], before...), int64(v), 10)
	_, _ = x.w.Write(x.buf)
}

// escape makes a text fit for XML. Bytes that are no UTF-8 and control
// characters, which XML cannot hold, become U+FFFD.
func escape(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '&':
			b.WriteString("&amp;")
		case r == '"':
			b.WriteString("&quot;")
		case r == '\t' || r == '\n' || r == '\r':
			fmt.Fprintf(&b, "&#%d;", r)
		case r < ' ' || r == 0xFFFE || r == 0xFFFF:
			b.WriteRune(utf8.RuneError)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
