package threemf

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"skinstock/mesh/file"
	solids "skinstock/mesh/solid"
)

// valid has an independent program check a model against the schema, and returns what it finds.
func valid(t *testing.T, model string) (string, bool) {
	t.Helper()
	exe, err := exec.LookPath("xmllint")
	if err != nil {
		t.Skip("xmllint is not installed")
	}
	path := filepath.Join(t.TempDir(), "3dmodel.model")
	if err := os.WriteFile(path, []byte(model), 0o666); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(exe, "--nonet", "--huge", "--noout", "--schema", filepath.Join("testdata", "schema", "core.xsd"), path).CombinedOutput()
	return string(out), err == nil
}

func TestWrittenModelsKeepTheSchema(t *testing.T) {
	m := solids.Merge(solids.Icosphere(5, 2), solids.Move(solids.Icosphere(1e-6, 1), solids.Rotation{}, tetraMesh().Vertices[1]))
	of, n := m.Bodies(m.Topology())
	colours := make([]uint8, len(m.Facets))
	for f := range colours {
		colours[f] = uint8(f % 3)
	}
	for name, opt := range map[string]WriteOptions{
		"plain":  {},
		"bodies": {BodyOf: of, Bodies: make([]string, n)},
		"all": {
			BodyOf: of, Bodies: []string{"<first> & \"second\"\x01", "µ 部品"}, ColourOf: colours, Colours: [][3]uint8{{1, 2, 3}, {}, {255, 255, 255}},
			NamespaceURIs: []Namespace{{"s", "https://example.org/s"}},
			Metadata:      []file.Metadata{{Name: "Title", Value: "a\nb]]>"}, {Name: "s:note", Value: "x"}},
		},
	} {
		var b bytes.Buffer
		if err := Write(&b, m, opt); err != nil {
			t.Fatal(err)
		}
		if out, ok := valid(t, text(t, b.Bytes(), defaultModel)); !ok {
			t.Errorf("%s: %s", name, out)
		}
	}
}

// The schema itself can say no.
func TestSchemaRefuses(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, tetraMesh(), WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	good := text(t, b.Bytes(), defaultModel)
	if out, ok := valid(t, good); !ok {
		t.Fatal(out)
	}
	for _, c := range [][2]string{
		{`unit="millimeter"`, `unit="mm"`},
		{`v1="0"`, `v1="-1"`},
		{` x="0"`, ` x="NaN"`},
		{` x="0"`, ``},
		{`<build>`, `<build><part/>`},
		{`type="model"`, `type="model" colour="red"`},
		{`<vertices>`, `<corners/><vertices>`},
		{`objectid="2"`, `objectid="two"`},
		{`objectid="2"`, `objectid="7"`},
	} {
		bad := strings.Replace(good, c[0], c[1], 1)
		if bad == good {
			t.Fatalf("%s does not stand in the model", c[0])
		}
		if _, ok := valid(t, bad); ok {
			t.Errorf("%s in place of %s is taken for valid", c[1], c[0])
		}
	}
}
