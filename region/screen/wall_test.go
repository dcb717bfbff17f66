package screen_test

import (
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

func everywhere(m *mesh.Mesh, mm float64) mesh.CornerField {
	f := make(mesh.CornerField, len(m.Facets))
	for i := range f {
		f[i] = [3]float64{mm, mm, mm}
	}
	return f
}

func thin(rep *screen.Report) (out []finding.Finding) {
	for _, f := range rep.Findings {
		if f.Code == "thin_wall" {
			out = append(out, f)
		}
	}
	return out
}

// Walls of 0.2 to 3 mm in any direction: rays between parallel faces are exact
// but for rounding. The stock makes up for what the bath takes, so that a wall
// ends as designed, and is told below 0.4 mm only.
func TestWallGaugeTilted(t *testing.T) {
	for _, mm := range []float64{0.2, 0.3, 0.39, 0.41, 0.5, 0.8, 1, 1.5, 2, 3} {
		m := solid.Box(r3.Vector{}, r3.Vector{X: 30, Y: mm, Z: 20})
		m = along(m, r3.Vector{X: 1, Y: 2, Z: 3}.Normalize(), r3.Vector{X: 7}, 0.7)
		rep := look(t, m, screen.Options{AllowanceMM: everywhere(m, 0.12), TakenMM: everywhere(m, 0.1)})
		require.InEpsilon(t, mm, rep.Wall.Min, 1e-6)
		require.Equal(t, mm < 0.4, len(thin(rep)) > 0, "%g mm", mm)
		for _, f := range thin(rep) {
			assert.InEpsilon(t, mm, f.SizeMM, 0.01)
			assert.Contains(t, f.Message, "wall of")
			assert.Equal(t, mm <= 0.2, strings.Contains(f.Message, "(0.000 mm without compensation)"), "%g mm", mm)
		}
	}
}

// A stepped plate of walls beside each other: each too thin one is found with its thickness.
func TestSteppedWalls(t *testing.T) {
	var ms []*mesh.Mesh
	want := []float64{0.2, 0.25, 0.3, 0.35}
	for i, w := range append(want, 0.5, 1, 2, 3) {
		x := 6 * float64(i)
		ms = append(ms, solid.Box(r3.Vector{X: x}, r3.Vector{X: x + w, Y: 20, Z: 15}))
	}
	rep := look(t, solid.Merge(ms...), screen.Options{})
	fs := thin(rep)
	require.Len(t, fs, len(want))
	for i, f := range fs {
		assert.InEpsilon(t, want[i], f.SizeMM, 0.01)
		assert.Equal(t, finding.Error, f.Severity) // nothing is added: it does not print
	}
}

// Struts between two blocks: the diameter is measured from facet to facet, for
// 48 sides 0.2 % less than from edge to edge. Those that the bath would take
// away altogether are told, and so are those below what prints or may be left.
func TestStruts(t *testing.T) {
	for _, c := range []struct {
		d, grow, take   float64
		told, vanish    bool
		sev             finding.Severity
		printed, finish string
	}{
		{0.2, 0, 0, true, false, finding.Error, "0.200 mm as printed", "0.200 mm after"},
		{0.2, 0.12, 0.1, true, true, finding.Warning, "0.440 mm as printed", "0.200 mm after"},
		{0.3, 0.12, 0.1, true, false, finding.Warning, "0.539 mm as printed", "0.299 mm after"},
		{0.5, 0.3, 0.28, true, true, finding.Warning, "1.099 mm as printed", "0.499 mm after"},
		{0.8, 0.12, 0.1, false, false, 0, "", ""},
		{3, 0.12, 0.1, false, false, 0, "", ""},
	} {
		rod := solid.Shift(solid.Cylinder(c.d/2, 10.2, 48), r3.Vector{X: 5, Y: 5, Z: 3.9})
		low := solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 4})
		high := solid.Box(r3.Vector{Z: 14}, r3.Vector{X: 10, Y: 10, Z: 18})
		m := cut(t, solid.Merge(low, high, rod))
		rep := look(t, m, screen.Options{AllowanceMM: everywhere(m, c.grow), TakenMM: everywhere(m, c.take)})
		require.InEpsilon(t, c.d, min(rep.Wall.Min, 4), 0.01, "%+v", c)
		fs := thin(rep)
		require.Equal(t, c.told, len(fs) == 1, "%+v: %v", c, fs)
		if !c.told {
			continue
		}
		f := fs[0]
		assert.True(t, strings.HasPrefix(f.Message, "strut of"), f.Message)
		assert.Contains(t, f.Message, c.printed)
		assert.Contains(t, f.Message, c.finish)
		assert.Equal(t, c.vanish, strings.Contains(f.Message, "(0.000 mm without compensation)"), f.Message)
		assert.Equal(t, c.sev, f.Severity, f.Message)
		assert.InDelta(t, 5, f.At.X, 0.01)
		assert.InDelta(t, 5, f.At.Y, 0.01)
	}
}

// The thinnest wall alone is the one that a whole screening finds, for any
// number of workers.
func TestThinnestWallAlone(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"bracket": solid.LanderBracket(2),
		"ball":    solid.Icosphere(5, 3),
		"steps":   solid.Merge(solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 10, Z: 3}), solid.Box(r3.Vector{X: 20}, r3.Vector{X: 30, Y: 10, Z: 1.25})),
	} {
		rep, err := screen.Screen(t.Context(), m, m.Topology(), nil, screen.Options{})
		require.NoError(t, err, name)
		for _, workers := range []int{1, 3} {
			mm, at, err := screen.ThinnestWall(t.Context(), m, nil, screen.Options{Workers: workers})
			require.NoError(t, err, name)
			require.Equal(t, rep.Wall.Min, mm, name)
			require.Equal(t, rep.Wall.At, at, name)
		}
	}
}
