package threemf_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/part/parttest"
	"skinstock/mesh/solid"
	"skinstock/mesh/threemf"
)

// A general 3-D library in a browser, which knows nothing of this package,
// reads the written files: as many objects, triangles and as much volume as
// were written. CI fetches the library and names its folder.
func TestIndependentReader(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is not installed")
	}
	library := os.Getenv("SKINSTOCK_THREE")
	if library == "" {
		t.Skip("SKINSTOCK_THREE does not name the folder of the npm package three")
	}
	meshes := written(t)
	mux := http.NewServeMux()
	mux.Handle("/three/", http.StripPrefix("/three/", http.FileServer(http.Dir(library))))
	mux.HandleFunc("/read.html", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFile(w, r, filepath.Join("testdata", "reader", "read.html"))
	})
	for i, m := range meshes {
		data := modelFile(t, m)
		mux.HandleFunc(fmt.Sprintf("/part/%d", i), func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(data) })
	}
	answer := make(chan []byte, 1)
	told := func(prefix string) http.HandlerFunc {
		return func(_ http.ResponseWriter, r *http.Request) {
			b, _ := io.ReadAll(r.Body)
			answer <- append([]byte(prefix), b...)
		}
	}
	mux.HandleFunc("/found", told(""))
	mux.HandleFunc("/failed", told("the library failed: "))
	server := httptest.NewServer(mux)
	defer server.Close()

	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	// Not the test's own folder: its removal must not fail on files that the browser's own processes still write.
	profile, err := os.MkdirTemp("", "skinstock-reader-")
	require.NoError(t, err)
	defer os.RemoveAll(profile)
	cmd := exec.CommandContext(ctx, chromium, "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+profile, "--remote-debugging-port=0", server.URL+"/read.html")
	require.NoError(t, cmd.Start())
	defer func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }()
	var found [][]struct {
		Triangles int
		Volume    float64
	}
	select {
	case b := <-answer:
		require.NoError(t, json.Unmarshal(b, &found), "%s", b)
	case <-ctx.Done():
		t.Fatal("the browser gave no answer")
	}
	require.Len(t, found, len(meshes))
	for i, m := range meshes {
		_, n := m.Bodies(m.Topology())
		require.Len(t, found[i], n)
		triangles, volume := 0, 0.0
		for _, o := range found[i] {
			triangles += o.Triangles
			volume += o.Volume
		}
		require.Equal(t, len(m.Facets), triangles)
		// The written coordinates are rounded to single precision, 6e-8 of their
		// size; a lattice 100 mm wide of thin beams feels that a hundredfold.
		require.InEpsilon(t, m.Volume(), volume, 1e-5)
	}
}

// The reference library of the format reads the same files in its strict mode
// without a warning: the unit, each body an object that is placed once, closed
// and oriented.
func TestReferenceLibrary(t *testing.T) {
	compiler, err := exec.LookPath("c++")
	if err != nil {
		t.Skip("no C++ compiler is installed")
	}
	const headers = "/usr/include/lib3mf"
	if !isFolder(headers) {
		t.Skip("lib3mf-dev is not installed")
	}
	dir := t.TempDir()
	reader := filepath.Join(dir, "read")
	out, err := exec.Command(compiler, "-w", "-I"+headers, filepath.Join("testdata", "reader", "read.cpp"), "-l3MF", "-o", reader).CombinedOutput()
	require.NoError(t, err, "%s", out)
	for i, m := range written(t) {
		name := filepath.Join(dir, fmt.Sprintf("%d.3mf", i))
		require.NoError(t, os.WriteFile(name, modelFile(t, m), 0o666))
		out, err := exec.Command(reader, name).CombinedOutput()
		require.NoError(t, err, "%s", out)
		var warnings, unit, objects, placed, triangles, open int
		_, err = fmt.Sscan(string(out), &warnings, &unit, &objects, &placed, &triangles, &open)
		require.NoError(t, err, "%s", out)
		_, n := m.Bodies(m.Topology())
		const millimetre = 1
		require.Equal(t, []int{0, millimetre, n, n, len(m.Facets), 0}, []int{warnings, unit, objects, placed, triangles, open})
	}
}

// written are the meshes that other readers are given.
func written(t *testing.T) []*mesh.Mesh {
	t.Helper()
	meshes := []*mesh.Mesh{
		solid.Icosphere(10, 3),
		solid.Merge(solid.Box(r3.Vector{}, r3.Vector{X: 3, Y: 4, Z: 5}), solid.Shift(solid.Cylinder(2, 6, 40), r3.Vector{X: 20, Y: -7.25}), solid.Shift(solid.Tube(5, 3, 2, 24), r3.Vector{Z: 100})),
	}
	if dir := filepath.Join(meshtest.Root(t), "..", "shared", "meshes"); isFolder(dir) {
		for _, name := range []string{"chain-40-links.stl", "voronoi-beam-lattice.stl"} {
			meshes = append(meshes, parttest.Shared(t, name).Mesh)
		}
	}
	return meshes
}

// modelFile writes a mesh as 3MF, each body an object, in two colours.
func modelFile(t *testing.T, m *mesh.Mesh) []byte {
	t.Helper()
	of, n := m.Bodies(m.Topology())
	colours := make([]uint8, len(m.Facets))
	for f := range colours {
		colours[f] = uint8(f % 2)
	}
	var b bytes.Buffer
	require.NoError(t, threemf.Write(&b, m, threemf.WriteOptions{
		BodyOf: of, Bodies: make([]string, n), ColourOf: colours, Colours: [][3]uint8{{0xD5, 0x5E, 0}, {0, 0x72, 0xB2}},
	}))
	return b.Bytes()
}

func isFolder(dir string) bool {
	st, err := os.Stat(dir)
	return err == nil && st.IsDir()
}
