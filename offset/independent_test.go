package offset_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/region"
)

// An independent library for solids takes grown parts, as they are written, for
// manifolds, and finds the same volume.
func TestIndependentLibrary(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("node is not installed")
	}
	library := os.Getenv("SKINSTOCK_MANIFOLD")
	if library == "" {
		t.Skip("SKINSTOCK_MANIFOLD does not name the folder of the npm package manifold-3d")
	}
	dir := t.TempDir()
	var files []string
	var volumes []float64
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		um   float64
	}{
		{"box", solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}), 150},
		{"needle", solid.Cone(0.5, 10, 24), 100},
		{"bracket", solid.SmoothBracket(2.2), 150},
		{"gyroid", solid.GyroidCube(1.2), 50},
		{"lattice", solid.LatticeCube(1.8), 400},
		{"spheres that join", solid.Merge(solid.Icosphere(5, 3), solid.Shift(solid.Icosphere(5, 3), r3.Vector{X: 10.3})), 200},
	} {
		res, err := offset.Compensate(t.Context(), partOf(t, c.m), jobOf(t, map[region.Skin]float64{region.Upskin: c.um, region.Vertical: c.um, region.Downskin: c.um}))
		require.NoError(t, err, c.name)
		var b bytes.Buffer
		require.NoError(t, stl.WriteBinary(&b, res.Grown, c.name))
		path := filepath.Join(dir, c.name+".stl")
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
		files, volumes = append(files, path), append(volumes, res.GrownMM3)
	}
	script := filepath.Join(meshtest.Root(t), "mesh", "arrange", "testdata", "manifold_check.mjs")
	cmd := exec.Command(node, append([]string{script}, files...)...)
	cmd.Env = append(os.Environ(), "MANIFOLD_DIR="+library)
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	require.Len(t, lines, len(files), "%s", out)
	for i, line := range lines {
		var status string
		var facets int
		var mm3 float64
		_, err := fmt.Sscan(line, &status, &facets, &mm3)
		require.NoError(t, err, line)
		require.Equal(t, "ok", status, line)
		// The library merges what lies within its own tolerance, about 1e-6 of the size.
		require.InEpsilon(t, volumes[i], mm3, 1e-4, line)
	}
}
