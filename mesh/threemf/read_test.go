package threemf

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"skinstock/mesh"
	"skinstock/mesh/file"
)

const (
	open  = `<model unit="millimeter" xmlns="` + coreURI + `">`
	tetra = `<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="10" y="0" z="0"/><vertex x="0" y="10" z="0"/><vertex x="0" y="0" z="10"/></vertices>` +
		`<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh>`
	object1 = `<object id="1" type="model">` + tetra + `</object>`
	plain   = open + `<resources>` + object1 + `</resources><build><item objectid="1"/></build></model>`
)

// volume is that of the tetrahedron, with its three right-angled legs of 10.
const volume = 1000.0 / 6

// pack makes an archive of names and contents.
func pack(t testing.TB, parts ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.CreateHeader(&zip.FileHeader{Name: parts[i], Method: zip.Deflate})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(parts[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// packModel makes a package of one model.
func packModel(t testing.TB, model string) []byte {
	return pack(t, relsPath, relationships, defaultModel, model)
}

func read(data []byte) (*file.Part, error) {
	return Read(bytes.NewReader(data), int64(len(data)), Options{})
}

// volumes returns the signed volume of every body, in file units.
func volumes(s *mesh.Soup) []float64 {
	solids := s.Solids
	if solids == nil {
		solids = []mesh.Solid{{Count: len(s.Corners)}}
	}
	var v []float64
	for _, b := range solids {
		sum := 0.0
		for _, t := range s.Corners[b.First : b.First+b.Count] {
			var p [3][3]float64
			for k := range 3 {
				for i := range 3 {
					p[k][i] = float64(t[k][i])
				}
			}
			a, b, c := p[0], p[1], p[2]
			sum += a[0]*(b[1]*c[2]-b[2]*c[1]) + a[1]*(b[2]*c[0]-b[0]*c[2]) + a[2]*(b[0]*c[1]-b[1]*c[0])
		}
		v = append(v, sum/6)
	}
	return v
}

func near(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) <= 1e-6*math.Abs(y) })
}

func TestReadAccepts(t *testing.T) {
	re := strings.NewReplacer
	item := `<item objectid="1"/>`
	with := func(items string) string { return re(item, items).Replace(plain) }
	assembly := func(components, items string) string {
		return open + `<resources>` + object1 + components + `</resources><build>` + items + `</build></model>`
	}
	tests := []struct {
		name    string
		model   string
		volumes []float64
		unitMM  float64
		names   []string
		codes   []string
	}{
		{name: "plain", model: plain},
		{name: "no unit", model: re(` unit="millimeter"`, "").Replace(plain)},
		{name: "micron", model: re("millimeter", "micron").Replace(plain), unitMM: 0.001},
		{name: "centimeter", model: re("millimeter", "centimeter").Replace(plain), unitMM: 10},
		{name: "inch", model: re("millimeter", "inch").Replace(plain), unitMM: 25.4},
		{name: "foot", model: re("millimeter", "foot").Replace(plain), unitMM: 304.8},
		{name: "meter", model: re("millimeter", "meter").Replace(plain), unitMM: 1000},
		{name: "byte-order mark and declaration", model: "\xEF\xBB\xBF<?xml version=\"1.0\" encoding='UTF-8'?>\n<!-- a > b -->" + plain + "\n<!-- end -->"},
		{name: "prefixed namespace", model: re("xmlns=", "xmlns:c=", "</", "</c:", "<", "<c:").Replace(plain)},
		{name: "single quotes and space", model: re(` id="1"`, "\n id = '1' ").Replace(plain)},
		{name: "line ends and tabs in a value", model: re(` id="1"`, " id=\"1\" name=\"upper\r\nhalf\tof&#9;it\"").Replace(plain), names: []string{"upper half of\tit"}},
		{name: "moved", model: with(`<item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 6 7"/>`)},
		{name: "scaled", model: with(`<item objectid="1" transform="2 0 0 0 3 0 0 0 4 0 0 0"/>`), volumes: []float64{24 * volume}},
		{name: "mirrored", model: with(`<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>`)},
		{name: "twice", model: with(item + item), volumes: []float64{volume, volume}, names: []string{"", ""}},
		{name: "named", model: re(`type="model"`, `name="bracket &amp; &#x6708;"`).Replace(plain), names: []string{"bracket & 月"}},
		{name: "part number", model: re(`type="model"`, `partnumber="A-7"`).Replace(plain), names: []string{"A-7"}},
		{
			name:    "components",
			model:   assembly(`<object id="2" name="pair"><components><component objectid="1"/><component objectid="1" transform="0 1 0 -1 0 0 0 0 2 20 0 0"/></components></object>`, `<item objectid="2"/>`),
			volumes: []float64{volume, 2 * volume}, names: []string{"pair", "pair"},
		},
		{
			name:    "components of components",
			model:   assembly(`<object id="2"><components><component objectid="1" transform="2 0 0 0 1 0 0 0 1 0 0 0"/></components></object><object id="3"><components><component objectid="2"/><component objectid="2"/></components></object>`, `<item objectid="3" transform="1 0 0 0 1 0 0 0 3 0 0 0"/>`),
			volumes: []float64{6 * volume, 6 * volume}, names: []string{"", ""},
		},
		{name: "defined later", model: open + `<resources><object id="2"><components><component objectid="1"/></components></object>` + object1 + `</resources><build><item objectid="2"/></build></model>`},
		{name: "support", model: assembly(`<object id="2" type="support">`+tetra+`</object>`, `<item objectid="1"/><item objectid="2"/>`), codes: []string{CodeSupports}},
		{name: "not built", model: assembly(`<object id="2">`+tetra+`</object>`, `<item objectid="1"/>`), codes: []string{CodeUnbuilt}},
		{name: "materials required", model: re(`unit=`, `xmlns:m="`+materialURI+`" requiredextensions="m" unit=`, `<object id`, `<m:colorgroup id="5"><m:color color="#FF0000"/></m:colorgroup><object id`).Replace(plain)},
		{name: "unknown extension", model: re(`<mesh>`, `<mesh><x:more xmlns:x="urn:more"><deep a="b"/></x:more>`).Replace(plain), codes: []string{CodeForeign}},
		{name: "beams not required", model: re(`</triangles>`, `</triangles><b:beamlattice xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02"/>`).Replace(plain), codes: []string{CodeBeams}},
		{name: "own namespace elsewhere", model: re(`<build>`, `<o:object xmlns:o="urn:o" id="1"/><build>`).Replace(plain)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, err := read(packModel(t, tt.model))
			if err != nil {
				t.Fatal(err)
			}
			want := tt.volumes
			if want == nil {
				want = []float64{volume}
			}
			if got := volumes(&p.Soup); !near(got, want) {
				t.Errorf("volumes %v, want %v", got, want)
			}
			if unit := max(tt.unitMM, 0.001); tt.unitMM == 0 && p.UnitMM != 1 || tt.unitMM != 0 && p.UnitMM != unit {
				t.Errorf("unit %v, want %v", p.UnitMM, tt.unitMM)
			}
			var names, codes []string
			for _, s := range p.Soup.Solids {
				names = append(names, s.Name)
			}
			for _, f := range p.Findings {
				codes = append(codes, f.Code)
			}
			if !slices.Equal(names, tt.names) || !slices.Equal(codes, tt.codes) {
				t.Errorf("solids %q, findings %q, want %q, %q", names, codes, tt.names, tt.codes)
			}
		})
	}
}

// The transform moves points as row vectors: a quarter turn about z brings x to y.
func TestReadTransform(t *testing.T) {
	p, err := read(packModel(t, strings.Replace(plain, `<item objectid="1"/>`, `<item objectid="1" transform="0 1 0 -1 0 0 0 0 1 100 200 300"/>`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	if want := [3][3]float32{{100, 200, 300}, {90, 200, 300}, {100, 210, 300}}; p.Soup.Corners[0] != want {
		t.Errorf("first facet %v, want %v", p.Soup.Corners[0], want)
	}
}

func TestReadMetadata(t *testing.T) {
	p, err := read(packModel(t, strings.Replace(plain, "<resources>", `<metadata name="Title"> a<![CDATA[ <&> ]]>&lt;b </metadata><metadata name="Designer"/><resources>`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	want := []file.Metadata{{Name: "Title", Value: "a <&> <b"}, {Name: "Designer"}}
	if !slices.Equal(p.Metadata, want) {
		t.Errorf("metadata %q, want %q", p.Metadata, want)
	}
}

// A model in two parts, as the production extension has it.
func TestReadModelInParts(t *testing.T) {
	const ns = ` xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"`
	root := strings.Replace(open, ">", ns+` requiredextensions="p">`, 1) + `<resources><object id="1"><components><component objectid="1" p:path="/3D/parts/one.model"/></components></object></resources>` +
		`<build><item objectid="1"/><item objectid="1" p:path="/3D/parts/one.model"/></build></model>`
	one := open + `<resources>` + strings.Replace(object1, "type", `name="one" type`, 1) + `</resources><build/></model>`
	p, err := read(pack(t, relsPath, relationships, defaultModel, root, "3D/parts/one.model", one))
	if err != nil {
		t.Fatal(err)
	}
	if got := volumes(&p.Soup); !near(got, []float64{volume, volume}) {
		t.Errorf("volumes %v", got)
	}
	if _, err := read(pack(t, relsPath, relationships, defaultModel, root, "3D/parts/one.model", strings.Replace(one, "millimeter", "inch", 1))); !errors.Is(err, file.ErrUnsupported) {
		t.Errorf("another unit: error %v, want ErrUnsupported", err)
	}
	if _, err := read(pack(t, relsPath, relationships, defaultModel, root)); err == nil {
		t.Error("a missing part is accepted")
	}
}

func TestReadWithoutRelationships(t *testing.T) {
	if _, err := read(pack(t, "3d/3DModel.model", plain)); err != nil {
		t.Error(err)
	}
}

func TestReadRefusesModels(t *testing.T) {
	re := strings.NewReplacer
	chain := func(n int) string { // every object is the one before, ten times
		var b strings.Builder
		for i := 2; i <= n; i++ {
			fmt.Fprintf(&b, `<object id="%d"><components>%s</components></object>`, i, strings.Repeat(fmt.Sprintf(`<component objectid="%d"/>`, i-1), 10))
		}
		return open + `<resources>` + object1 + b.String() + fmt.Sprintf(`</resources><build><item objectid="%d"/></build></model>`, n)
	}
	tests := []struct {
		name, model string
		err         error
	}{
		{"nothing", "", file.ErrTruncated},
		{"cut", plain[:len(plain)-30], file.ErrTruncated},
		{"cut in a tag", plain[:300], file.ErrTruncated},
		{"another root", `<svg xmlns="` + coreURI + `"/>`, file.ErrFormat},
		{"another namespace", re("core/2015/02", "core/2099/01").Replace(plain), file.ErrFormat},
		{"unit", re("millimeter", "furlong").Replace(plain), file.ErrSyntax},
		{"no items", re(`<item objectid="1"/>`, "").Replace(plain), file.ErrNoFacets},
		{"no triangles", open + `<resources><object id="1"><mesh><vertices/><triangles/></mesh></object></resources><build><item objectid="1"/></build></model>`, file.ErrNoFacets},
		{"only supports", re(`type="model"`, `type="support"`).Replace(plain), file.ErrNoFacets},
		{"other in the build", re(`type="model"`, `type="other"`).Replace(plain), file.ErrSyntax},
		{"unknown type", re(`type="model"`, `type="ghost"`).Replace(plain), file.ErrSyntax},
		{"no object", re(`objectid="1"`, `objectid="2"`).Replace(plain), file.ErrIndex},
		{"objectid", re(`objectid="1"`, `objectid="one"`).Replace(plain), file.ErrNumber},
		{"id missing", re(`<object id="1"`, `<object`).Replace(plain), file.ErrNumber},
		{"id twice", re(`</resources>`, object1+`</resources>`).Replace(plain), file.ErrSyntax},
		{"two meshes", re(`</mesh>`, `</mesh><mesh/>`).Replace(plain), file.ErrSyntax},
		{"empty object", re(tetra, "").Replace(plain), file.ErrUnsupported},
		{"number", re(`x="10"`, `x="1O"`).Replace(plain), file.ErrNumber},
		{"not finite", re(`x="10"`, `x="NaN"`).Replace(plain), file.ErrNotFinite},
		{"beyond single precision", re(`x="10"`, `x="1e39"`).Replace(plain), file.ErrNotFinite},
		{"two coordinates", re(`x="10" y="0"`, `x="10"`).Replace(plain), file.ErrSyntax},
		{"coordinate twice", re(`x="10" y="0"`, `x="10" x="0"`).Replace(plain), file.ErrSyntax},
		{"corner", re(`v1="1"`, `v1="4"`).Replace(plain), file.ErrIndex},
		{"negative corner", re(`v1="1"`, `v1="-1"`).Replace(plain), file.ErrIndex},
		{"corner number", re(`v1="1"`, `v1="1.0"`).Replace(plain), file.ErrNumber},
		{"two corners", re(`v1="1" v2="2"`, `v1="1"`).Replace(plain), file.ErrVertexCount},
		{"transform of 11", re(`objectid="1"`, `objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"`).Replace(plain), file.ErrNumber},
		{"flat transform", re(`objectid="1"`, `objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"`).Replace(plain), file.ErrNumber},
		{"infinite transform", re(`objectid="1"`, `objectid="1" transform="1 0 0 0 1 0 0 0 1 inf 0 0"`).Replace(plain), file.ErrNumber},
		{"itself", open + `<resources><object id="1"><components><component objectid="1"/></components></object></resources><build><item objectid="1"/></build></model>`, file.ErrHostile},
		{"copies without end", chain(60), file.ErrTooLarge},
		{"copies without end of nothing", strings.Replace(chain(60), tetra, "<mesh/>", 1), file.ErrTooLarge},
		{"deep components", chain(80), file.ErrHostile},
		{"deep elements", re(`<build>`, strings.Repeat("<a>", 1000)).Replace(plain), file.ErrHostile},
		{"document type", `<!DOCTYPE model [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>` + plain, file.ErrHostile},
		{"outer entity", re(`type="model"`, `name="&secret;"`).Replace(plain), file.ErrHostile},
		{"null character", re(`type="model"`, `name="&#0;"`).Replace(plain), file.ErrHostile},
		{"entity in text", re(`<resources>`, `<metadata name="Title">&lol9;</metadata><resources>`).Replace(plain), file.ErrHostile},
		{"many attributes", re(`<build>`, `<build`+manyAttributes(100)+`>`).Replace(plain), file.ErrTooLarge},
		{"endless tag", re(`<build>`, `<build a="`+strings.Repeat("x", 2<<20)+`">`).Replace(plain), file.ErrTooLarge},
		{"UTF-16", `<?xml version="1.0" encoding="UTF-16"?>` + plain, file.ErrUnsupported},
		{"wrong end", re(`</build>`, `</built>`).Replace(plain), file.ErrSyntax},
		{"end too many", plain + `</model>`, file.ErrSyntax},
		{"second root", plain + plain, file.ErrSyntax},
		{"text outside", plain + "x", file.ErrSyntax},
		{"no quotes", re(`id="1"`, `id=1`).Replace(plain), file.ErrSyntax},
		{"no value", re(`id="1"`, `id`).Replace(plain), file.ErrSyntax},
		{"joined attributes", re(`id="1" type`, `id="1"type`).Replace(plain), file.ErrSyntax},
		{"prefix", re(`<build>`, `<q:build>`, `</build>`, `</q:build>`).Replace(plain), file.ErrSyntax},
		{"beams required", re(`unit=`, `xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" requiredextensions="b" unit=`).Replace(plain), file.ErrUnsupported},
		{"unknown required", re(`unit=`, `xmlns:s="http://schemas.microsoft.com/3dmanufacturing/slice/2015/07" requiredextensions="s" unit=`).Replace(plain), file.ErrUnsupported},
		{"undeclared required", re(`unit=`, `requiredextensions="s" unit=`).Replace(plain), file.ErrSyntax},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := read(packModel(t, tt.model))
			var e *file.Error
			if !errors.As(err, &e) || !errors.Is(err, tt.err) {
				t.Fatalf("error %v, want %v", err, tt.err)
			}
			if e.Within != defaultModel || strings.ContainsAny(err.Error(), "\n\r\x00") || len(err.Error()) > 300 {
				t.Errorf("error %q does not name the part, or is no plain line", err)
			}
		})
	}
	data := packModel(t, plain)
	if _, err := Read(bytes.NewReader(data), int64(len(data)), Options{MaxFacets: 3}); !errors.Is(err, file.ErrTooLarge) {
		t.Errorf("limit 3: error %v, want ErrTooLarge", err)
	}
}

func manyAttributes(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, ` a%d="1"`, i)
	}
	return b.String()
}

func TestReadRefusesArchives(t *testing.T) {
	whole := packModel(t, plain)
	rels := func(target string) string { return strings.Replace(relationships, "/"+defaultModel, target, 1) }
	stored := func(change func([]byte)) []byte { // an archive whose bytes are changed after packing
		data := bytes.Clone(whole)
		change(data)
		return data
	}
	tests := []struct {
		name string
		data []byte
		err  error
	}{
		{"empty", nil, file.ErrEmpty},
		{"no archive", []byte("solid part\n"), file.ErrFormat},
		{"two letters", []byte("PK"), file.ErrTruncated},
		{"cut", whole[:len(whole)-30], file.ErrTruncated},
		{"no model", pack(t, "readme.txt", "hello"), file.ErrFormat},
		{"relationships without a model", pack(t, relsPath, strings.Replace(relationships, modelRelation, "urn:picture", 1), defaultModel, plain), file.ErrFormat},
		{"model missing", pack(t, relsPath, relationships), file.ErrSyntax},
		{"target outside", pack(t, relsPath, rels("/../etc/passwd"), defaultModel, plain), file.ErrHostile},
		{"target with a drive", pack(t, relsPath, rels("C:/model"), defaultModel, plain), file.ErrHostile},
		{"entry outside", pack(t, relsPath, relationships, defaultModel, plain, "../evil", "x"), file.ErrHostile},
		{"absolute entry", pack(t, relsPath, relationships, defaultModel, plain, "/evil", "x"), file.ErrHostile},
		{"backslash", pack(t, relsPath, relationships, defaultModel, plain, `3D\..\..\evil`, "x"), file.ErrHostile},
		{"entry twice", pack(t, relsPath, relationships, defaultModel, plain, strings.ToUpper(defaultModel), plain), file.ErrHostile},
		{"bomb", packModel(t, open+strings.Repeat(" ", 20<<20)), file.ErrHostile},
		{"bomb in the relationships", pack(t, relsPath, "<Relationships>"+strings.Repeat("<a></a>", 3<<20), defaultModel, plain), file.ErrHostile},
		{"bomb behind the model", packModel(t, plain+strings.Repeat("\n", 20<<20)), file.ErrHostile},
		{"packed data damaged", stored(func(b []byte) {
			at := bytes.Index(b, []byte(defaultModel)) + len(defaultModel)
			for i := range 40 {
				b[at+40+i] ^= 0x55
			}
		}), file.ErrTruncated},
		{"check sum", stored(func(b []byte) {
			at := bytes.LastIndex(b, []byte(defaultModel)) - 46 + 16
			b[at] ^= 1
		}), file.ErrTruncated},
		{"encrypted", stored(func(b []byte) {
			at := bytes.LastIndex(b, []byte(defaultModel)) - 46 + 8
			b[at] |= 1
		}), file.ErrUnsupported},
		{"method", stored(func(b []byte) {
			at := bytes.LastIndex(b, []byte(defaultModel)) - 46 + 10
			b[at] = 99
		}), file.ErrUnsupported},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := read(tt.data)
			var e *file.Error
			if !errors.As(err, &e) || !errors.Is(err, tt.err) || strings.ContainsAny(err.Error(), "\n\r\x00") {
				t.Errorf("error %v, want %v", err, tt.err)
			}
		})
	}
}
