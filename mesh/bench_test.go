package mesh_test

import (
	"fmt"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// ball returns the soup of an icosphere, and its mesh. Levels 6, 7 and 8 have
// 82 thousand, 328 thousand and 1.3 million facets.
func ball(level int) (*mesh.Soup, *mesh.Mesh) {
	m := solid.Icosphere(50, level)
	return solid.Soup(m), m
}

// cracked moves every n-th facet's first corner by gap in file units, which
// opens two edges and leaves a crack.
func cracked(s *mesh.Soup, n int, gap float32) *mesh.Soup {
	c := &mesh.Soup{Corners: append([][3][3]float32(nil), s.Corners...)}
	for f := 0; f < len(c.Corners); f += n {
		c.Corners[f][0][2] += gap
	}
	return c
}

func BenchmarkBuild(b *testing.B) {
	for _, level := range []int{6, 8} {
		s, _ := ball(level)
		for _, c := range []struct {
			name string
			soup *mesh.Soup
		}{{"sound", s}, {"cracked", cracked(s, 131, 2e-4)}} {
			b.Run(fmt.Sprintf("%s-%d", c.name, len(s.Corners)), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, _, err := mesh.Build(c.soup, mesh.BuildOptions{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// Many small bodies: a grid of balls, each a shell to be nested.
func BenchmarkBuildManyShells(b *testing.B) {
	one := solid.Icosphere(0.4, 1)
	var all []*mesh.Mesh
	for i := range 12000 {
		all = append(all, solid.Shift(one, r3.Vector{X: float64(i % 23), Y: float64(i / 23 % 23), Z: float64(i / 529)}))
	}
	s := solid.Soup(solid.Merge(all...))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := mesh.Build(s, mesh.BuildOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTopology(b *testing.B) {
	for _, level := range []int{6, 8} {
		_, m := ball(level)
		b.Run(fmt.Sprint(len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				m.Topology()
			}
		})
	}
}

func BenchmarkIncidence(b *testing.B) {
	_, m := ball(8)
	b.ReportAllocs()
	for b.Loop() {
		m.Incidence()
	}
}

func BenchmarkShells(b *testing.B) {
	_, m := ball(8)
	topo := m.Topology()
	b.ReportAllocs()
	for b.Loop() {
		m.Shells(topo)
	}
}
