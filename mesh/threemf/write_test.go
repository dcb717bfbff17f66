package threemf

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/stl"
)

func tetraMesh() *mesh.Mesh {
	return &mesh.Mesh{
		Vertices: []r3.Vector{{}, {X: 10}, {Y: 10}, {Z: 10}},
		Facets:   [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
	}
}

// text returns one entry of an archive.
func text(t *testing.T, data []byte, name string) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestWriteModelText(t *testing.T) {
	m := tetraMesh()
	var b bytes.Buffer
	err := Write(&b, m, WriteOptions{
		Metadata: []file.Metadata{{Name: "Title", Value: "<a> & \"b\"\n\x01"}},
		Bodies:   []string{"part"}, BodyOf: make([]int32, 4),
		Colours: [][3]uint8{{0xD5, 0x5E, 0x00}, {0x00, 0x72, 0xB2}}, ColourOf: []uint8{1, 0, 0, 1},
	})
	if err != nil {
		t.Fatal(err)
	}
	const want = `<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02">
 <metadata name="Title">&lt;a&gt; &amp; &quot;b&quot;&#10;` + "\uFFFD" + `</metadata>
 <resources>
  <m:colorgroup id="1">
   <m:color color="#D55E00"/>
   <m:color color="#0072B2"/>
  </m:colorgroup>
  <object id="2" type="model" name="part" pid="1" pindex="1">
   <mesh>
    <vertices>
     <vertex x="0" y="0" z="0"/>
     <vertex x="0" y="10" z="0"/>
     <vertex x="10" y="0" z="0"/>
     <vertex x="0" y="0" z="10"/>
    </vertices>
    <triangles>
     <triangle v1="0" v2="1" v3="2" pid="1" p1="1"/>
     <triangle v1="0" v2="2" v3="3" pid="1" p1="0"/>
     <triangle v1="0" v2="3" v3="1" pid="1" p1="0"/>
     <triangle v1="2" v2="1" v3="3" pid="1" p1="1"/>
    </triangles>
   </mesh>
  </object>
 </resources>
 <build>
  <item objectid="2"/>
 </build>
</model>
`
	if got := text(t, b.Bytes(), defaultModel); got != want {
		t.Errorf("wrote\n%s, want\n%s", got, want)
	}
}

// Every entry is well-formed XML for an independent parser.
func TestWriteIsXML(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, tetraMesh(), WriteOptions{Bodies: []string{"\xff<>&\x00"}, BodyOf: make([]int32, 4)}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"[Content_Types].xml", relsPath, defaultModel} {
		d := xml.NewDecoder(strings.NewReader(text(t, b.Bytes(), name)))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
}

func TestWriteTwiceGivesTheSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	if err := errors.Join(Write(&a, tetraMesh(), WriteOptions{}), Write(&b, tetraMesh(), WriteOptions{})); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the bytes differ")
	}
}

func TestWriteSolids(t *testing.T) {
	m := tetraMesh()
	m.Facets = append(m.Facets, m.Facets...)
	m.Facets = append(m.Facets, m.Facets[:4]...)
	m.Solids = []mesh.Solid{{Name: "a", Count: 4}, {Name: "empty", First: 4}, {Name: "b", First: 4, Count: 4}}
	var b bytes.Buffer
	if err := Write(&b, m, WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	p, err := read(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	want := []mesh.Solid{{Name: "a", Count: 4}, {Name: "b", First: 4, Count: 4}, {First: 8, Count: 4}} // the rest is nameless
	if !slices.Equal(p.Soup.Solids, want) || !near(volumes(&p.Soup), []float64{volume, volume, volume}) {
		t.Errorf("solids %+v, want %+v", p.Soup.Solids, want)
	}
}

func TestWriteRefuses(t *testing.T) {
	tests := []struct {
		name   string
		change func(*mesh.Mesh, *WriteOptions)
	}{
		{"vertex twice", func(m *mesh.Mesh, _ *WriteOptions) { m.Facets[1][0] = m.Facets[1][1] }},
		{"not finite", func(m *mesh.Mesh, _ *WriteOptions) { m.Vertices[1].X = math.NaN() }},
		{"beyond single precision", func(m *mesh.Mesh, _ *WriteOptions) { m.Vertices[1].X = 1e39 }},
		{"bodies", func(_ *mesh.Mesh, o *WriteOptions) { o.BodyOf = []int32{0} }},
		{"no such body", func(_ *mesh.Mesh, o *WriteOptions) { o.BodyOf, o.Bodies = []int32{0, 0, 0, 1}, []string{""} }},
		{"colours", func(_ *mesh.Mesh, o *WriteOptions) { o.ColourOf = []uint8{0} }},
		{"no such colour", func(_ *mesh.Mesh, o *WriteOptions) { o.ColourOf = []uint8{0, 0, 0, 0} }},
		{"solid", func(m *mesh.Mesh, _ *WriteOptions) { m.Solids = []mesh.Solid{{Count: 5}} }},
		{"metadata name", func(_ *mesh.Mesh, o *WriteOptions) { o.Metadata = []file.Metadata{{Name: "Recipe"}} }},
		{"metadata prefix", func(_ *mesh.Mesh, o *WriteOptions) { o.Metadata = []file.Metadata{{Name: "s:Recipe"}} }},
		{"metadata twice", func(_ *mesh.Mesh, o *WriteOptions) { o.Metadata = []file.Metadata{{Name: "Title"}, {Name: "Title"}} }},
		{"prefix", func(_ *mesh.Mesh, o *WriteOptions) { o.NamespaceURIs = []Namespace{{"a b", "urn:x"}} }},
	}
	for _, tt := range tests {
		m, o := tetraMesh(), WriteOptions{}
		tt.change(m, &o)
		if err := Write(io.Discard, m, o); err == nil {
			t.Errorf("%s: no error", tt.name)
		}
	}
	o := WriteOptions{NamespaceURIs: []Namespace{{"s", "urn:x"}}, Metadata: []file.Metadata{{Name: "s:Recipe", Value: "own"}}}
	var b bytes.Buffer
	if err := Write(&b, tetraMesh(), o); err != nil {
		t.Fatal(err)
	}
	if p, err := read(b.Bytes()); err != nil || !slices.Equal(p.Metadata, o.Metadata) {
		t.Errorf("metadata %q (%v), want %q", p.Metadata, err, o.Metadata)
	}
}

// weld joins equal corners, and numbers the bodies: facets that share a vertex.
func weld(s *mesh.Soup) (m *mesh.Mesh, bodyOf []int32, bodies int) {
	m = &mesh.Mesh{}
	number := map[[3]float32]int32{}
	var parent []int32
	root := func(v int32) int32 {
		for parent[v] != v {
			v = parent[v]
		}
		return v
	}
	for _, t := range s.Corners {
		var f [3]int32
		for k, p := range t {
			i, ok := number[p]
			if !ok {
				i = int32(len(m.Vertices))
				number[p] = i
				m.Vertices = append(m.Vertices, r3.Vector{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])})
				parent = append(parent, i)
			}
			f[k] = i
		}
		a, b, c := root(f[0]), root(f[1]), root(f[2])
		low := min(a, b, c)
		parent[a], parent[b], parent[c] = low, low, low
		m.Facets = append(m.Facets, f)
	}
	body := map[int32]int32{}
	for _, f := range m.Facets {
		r := root(f[0])
		if _, ok := body[r]; !ok {
			body[r] = int32(len(body))
		}
		bodyOf = append(bodyOf, body[r])
	}
	return m, bodyOf, len(body)
}

// Parts that were born as 3MF (the beams of the lattice meet in common corners, so they are one body) go out body by body and come back with the same
// corners, in millimetres.
func TestRoundTripSharedMeshes(t *testing.T) {
	for name, bodies := range map[string]int{"chain-40-links.stl": 40, "voronoi-beam-lattice.stl": 1} {
		r, err := os.Open(meshtest.Shared(t, name))
		if err != nil {
			t.Fatal(err)
		}
		f, err := stl.Read(r, -1, stl.Options{})
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		m, bodyOf, n := weld(&f.Soup)
		if n != bodies {
			t.Fatalf("%s: %d bodies, want %d", name, n, bodies)
		}
		var b bytes.Buffer
		if err := Write(&b, m, WriteOptions{BodyOf: bodyOf, Bodies: make([]string, n)}); err != nil {
			t.Fatal(err)
		}
		p, err := read(b.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if got := len(volumes(&p.Soup)); got != n || p.UnitMM != 1 || len(p.Findings) > 0 {
			t.Errorf("%s: %d bodies, unit %v, findings %v; want %d bodies, unit 1", name, got, p.UnitMM, p.Findings, n)
		}
		// Grouped by body, the facets come back corner for corner.
		var want [][3][3]float32
		for body := range int32(n) {
			for i, t := range f.Soup.Corners {
				if bodyOf[i] == body {
					want = append(want, t)
				}
			}
		}
		if !slices.Equal(p.Soup.Corners, want) {
			t.Errorf("%s: the facets differ", name)
		}
		sum := func(v []float64) (s float64) {
			for _, x := range v {
				s += x
			}
			return s
		}
		whole := f.Soup
		whole.Solids = nil
		// Sums over other origins of the same corners: double precision leaves 1e-9.
		if got, all := sum(volumes(&p.Soup)), volumes(&whole)[0]; math.Abs(got-all) > 1e-9*math.Abs(all) {
			t.Errorf("%s: volume %v, want %v", name, got, all)
		}
	}
}
