package arrange

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/meshtest"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// averaged moves every vertex by d along its area-weighted normal: the plain
// move that makes voxel-born parts cross themselves.
func averaged(m *mesh.Mesh, d float64) *mesh.Mesh {
	n := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		a := m.AreaNormal(f)
		for _, v := range t {
			n[v] = n[v].Add(a)
		}
	}
	for i, v := range m.Vertices {
		n[i] = v.Add(n[i].Normalize().Mul(d))
	}
	return m.WithVertices(n)
}

func TestHarness(t *testing.T) {
	parts := []struct {
		name string
		make func() *mesh.Mesh
	}{
		{"bracket20k", func() *mesh.Mesh { return solid.SmoothBracket(1.7) }},
		{"lander20k", func() *mesh.Mesh { return solid.LanderBracket(2) }},
		{"gyroid20k", func() *mesh.Mesh { return solid.GyroidCube(1.7) }},
		{"lattice20k", func() *mesh.Mesh { return solid.LatticeCube(1.4) }},
		{"bracket100k", func() *mesh.Mesh { return solid.SmoothBracket(0.77) }},
		{"lander100k", func() *mesh.Mesh { return solid.LanderBracket(0.9) }},
		{"gyroid100k", func() *mesh.Mesh { return solid.GyroidCube(0.78) }},
		{"lattice100k", func() *mesh.Mesh { return solid.LatticeCube(0.63) }},
	}
	for _, p := range parts {
		if w := os.Getenv("PART"); w != "" && w != p.name {
			continue
		}
		m := p.make()
		for _, d := range []float64{0.05, 0.2, 0.4} {
			g := averaged(m, d)
			start := time.Now()
			out, rep, err := Resolve(context.Background(), g, Options{Workers: 2, DropVoidsMM3: 1e-3, DropVoidsMM: 0.1})
			el := time.Since(start)
			if err != nil {
				t.Errorf("%s %g: %d facets: %v  %.1fs", p.name, d, len(m.Facets), err, el.Seconds())
				continue
			}
			t.Logf("%s %g: %d facets -> %d, crossings %d touches %d rounds %d cut %d removed %d added %d moved %d max %.2g voids %d shells %d->%d vol %.3f -> %.3f -> %.3f  %.2fs", p.name, d, len(m.Facets), len(out.Facets), rep.Crossings, rep.Touches, rep.Rounds,
				rep.CutFacets, rep.FacetsRemoved, rep.FacetsAdded, rep.VerticesMoved, rep.MaxMoveMM, len(rep.Voids), rep.ShellsIn, rep.ShellsOut, m.Volume(), g.Volume(), out.Volume(), el.Seconds())
			for _, c := range rep.Crumbs {
				if !c.Dropped {
					t.Logf("   crumb %.3g mm3 %.3g mm", c.VolumeMM3, c.DepthMM)
				}
			}
			for _, c := range rep.Voids {
				if !c.Dropped {
					t.Logf("   void %.3g mm3 %.3g mm", c.VolumeMM3, c.DepthMM)
				}
			}
			requireSound(t, out)
			if dir := os.Getenv("OUTDIR"); dir != "" {
				f, err := os.Create(fmt.Sprintf("%s/%s_%g.stl", dir, p.name, d))
				require.NoError(t, err)
				require.NoError(t, stl.WriteBinary(f, out, "x"))
				f.Close()
			}
		}
	}
}

// load reads a real mesh and welds equal corners.
func load(t testing.TB, path string) *mesh.Mesh {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	file, err := stl.Read(f, -1, stl.Options{})
	require.NoError(t, err)
	m := &mesh.Mesh{}
	at := map[[3]float32]int32{}
	for _, c := range file.Soup.Corners {
		var tri [3]int32
		for k, p := range c {
			for i := range p {
				p[i] += 0
			}
			v, ok := at[p]
			if !ok {
				v = int32(len(m.Vertices))
				at[p] = v
				m.Vertices = append(m.Vertices, r3.Vector{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])})
			}
			tri[k] = v
		}
		m.Facets = append(m.Facets, tri)
	}
	return m
}

func TestSharedHarness(t *testing.T) {
	names, _ := filepath.Glob(meshtest.Shared(t, "*.stl"))
	for _, n := range names {
		if w := os.Getenv("PART"); w != "" && !strings.Contains(n, w) {
			continue
		}
		if strings.Contains(n, "bad-") || strings.Contains(n, "empty") {
			continue
		}
		m := load(t, n)
		lo, hi := m.Bounds()
		scale := 1.0
		if hi.Sub(lo).Norm() < 2 {
			scale = 50
		}
		m = solid.Map(m, func(p r3.Vector) r3.Vector { return p.Mul(scale) })
		for _, d := range []float64{0, 0.05, 0.2, 0.4} {
			g := averaged(m, d)
			start := time.Now()
			out, rep, err := Resolve(context.Background(), g, Options{Workers: 2, DropVoidsMM3: 1e-3, DropVoidsMM: 0.1})
			el := time.Since(start)
			base := filepath.Base(n)
			if err != nil {
				t.Logf("ERR %s %g: %d facets: %v  %.1fs", base, d, len(m.Facets), err, el.Seconds())
				continue
			}
			t.Logf("ok %s %g: %d facets -> %d, crossings %d touches %d dup %d rounds %d cut %d removed %d added %d moved %d max %.2g voids %d shells %d->%d vol %.3f -> %.3f -> %.3f  %.2fs", base, d, len(m.Facets), len(out.Facets), rep.Crossings, rep.Touches, rep.Duplicates, rep.Rounds,
				rep.CutFacets, rep.FacetsRemoved, rep.FacetsAdded, rep.VerticesMoved, rep.MaxMoveMM, len(rep.Voids), rep.ShellsIn, rep.ShellsOut, m.Volume(), g.Volume(), out.Volume(), el.Seconds())
			for _, c := range rep.Crumbs {
				if !c.Dropped {
					t.Logf("   crumb %.3g mm3 %.3g mm", c.VolumeMM3, c.DepthMM)
				}
			}
			for _, c := range rep.Voids {
				if !c.Dropped {
					t.Logf("   void %.3g mm3 %.3g mm", c.VolumeMM3, c.DepthMM)
				}
			}
			requireSound(t, out)
			if dir := os.Getenv("OUTDIR"); dir != "" {
				f, err := os.Create(fmt.Sprintf("%s/%s_%g.stl", dir, base, d))
				require.NoError(t, err)
				require.NoError(t, stl.WriteBinary(f, out, "x"))
				f.Close()
			}
		}
	}
}
