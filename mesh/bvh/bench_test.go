package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

var benchMeshes = map[string]*mesh.Mesh{}

// gyroid returns a sheet gyroid of about 100 k or 1 M facets.
func gyroid(name string) *mesh.Mesh {
	if m := benchMeshes[name]; m != nil {
		return m
	}
	size := map[string][2]float64{"100k": {12, 0.85}, "1M": {20, 0.58}}[name]
	h, cell := size[0], size[1]
	body := solid.Common(solid.GyroidSheet(10, 1.5), solid.Block(r3.Vector{X: -h, Y: -h, Z: -h}, r3.Vector{X: h, Y: h, Z: h}))
	m := solid.Implicit(body, r3.Vector{X: -h - 1, Y: -h - 1, Z: -h - 1}, r3.Vector{X: h + 1, Y: h + 1, Z: h + 1}, cell)
	m.RoundToFloat32()
	benchMeshes[name] = m
	return m
}

func perSize(b *testing.B, run func(b *testing.B, m *mesh.Mesh)) {
	for _, name := range []string{"100k", "1M"} {
		b.Run(name, func(b *testing.B) {
			m := gyroid(name)
			b.ReportAllocs()
			b.ResetTimer()
			run(b, m)
			b.ReportMetric(float64(len(m.Facets)), "facets")
		})
	}
}

func BenchmarkNew(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		for range b.N {
			New(m, 0)
		}
	})
}

func BenchmarkWiden(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		b.ResetTimer()
		for range b.N {
			t.Widen(0)
			t.Narrow()
		}
	})
}

func BenchmarkMoved(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		b.ResetTimer()
		for range b.N {
			t.Moved(m, 0)
		}
	})
}

// A few vertices in a thousand move to and fro, as in a round of lifting.
func BenchmarkFollow(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		there := m.WithVertices(append([]r3.Vector(nil), m.Vertices...))
		for v := 0; v < len(there.Vertices); v += 300 {
			there.Vertices[v].X += 0.001
		}
		t := New(m, 0)
		b.ResetTimer()
		for i := range b.N {
			t.Follow([2]*mesh.Mesh{there, m}[i%2], 0)
		}
	})
}

// Every hundredth facet is looked at.
func BenchmarkCrossingsNear(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		marked := make([]bool, len(m.Facets))
		for f := 0; f < len(marked); f += 100 {
			marked[f] = true
		}
		b.ResetTimer()
		for range b.N {
			if _, err := t.SelfCrossingsNear(b.Context(), marked, CrossingOptions{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkClosestCoherent(b *testing.B) { closestCoherent(b, false) }

func BenchmarkClosestCoherentWide(b *testing.B) { closestCoherent(b, true) }

func closestCoherent(b *testing.B, wide bool) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		if wide {
			t.Widen(0)
		}
		points := make([]r3.Vector, len(m.Facets))
		for f := range points {
			p, q, r := m.Triangle(f)
			points[f] = p.Add(q).Add(r).Mul(1.0 / 3).Add(m.FacetNormal(f).Mul(-0.15))
		}
		out := make([]Hit, len(points))
		b.ResetTimer()
		for range b.N {
			_ = t.ClosestAll(b.Context(), points, out, 0)
		}
		b.ReportMetric(float64(b.N)*float64(len(points))/b.Elapsed().Seconds()/1e6, "Mpoints/s")
	})
}

func BenchmarkRayCoherent(b *testing.B) { rayCoherent(b, false) }

func BenchmarkRayCoherentWide(b *testing.B) { rayCoherent(b, true) }

func rayCoherent(b *testing.B, wide bool) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		if wide {
			t.Widen(0)
		}
		b.ResetTimer()
		for range b.N {
			_ = inChunks(b.Context(), len(m.Facets), 2048, 0, func(lo, hi int) error {
				for f := lo; f < hi; f++ {
					p, q, r := m.Triangle(f)
					n := m.FacetNormal(f)
					t.Ray(p.Add(q).Add(r).Mul(1.0/3), n, 1e-6, math.Inf(1))
				}
				return nil
			})
		}
		b.ReportMetric(float64(b.N)*float64(len(m.Facets))/b.Elapsed().Seconds()/1e6, "Mrays/s")
	})
}

func BenchmarkWinding(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		r := rand.New(rand.NewPCG(1, 1))
		points := make([]r3.Vector, 4096)
		for i := range points {
			points[i] = r3.Vector{X: 40 * (r.Float64() - 0.5), Y: 40 * (r.Float64() - 0.5), Z: 40 * (r.Float64() - 0.5)}
		}
		b.ResetTimer()
		for i := range b.N {
			t.Winding(points[i%len(points)])
		}
	})
}

func BenchmarkSelfCrossings(b *testing.B) {
	perSize(b, func(b *testing.B, m *mesh.Mesh) {
		t := New(m, 0)
		b.ResetTimer()
		total := 0
		for range b.N {
			c, err := t.SelfCrossings(b.Context(), CrossingOptions{})
			if err != nil {
				b.Fatal(err)
			}
			total = c.Total
		}
		b.ReportMetric(float64(total), "pairs")
	})
}
