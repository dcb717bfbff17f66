package mesh_test

import (
	"fmt"
	"maps"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
)

// hostileSoups are heaps of n facets that bound nothing, each with some measure
// in excess: open edges, points in one place, facets at one edge or vertex.
func hostileSoups(n int) map[string]*mesh.Soup {
	r := rand.New(rand.NewSource(1))
	mk := func(f func(i int) [3][3]float32) *mesh.Soup {
		s := &mesh.Soup{}
		for i := range n {
			s.Corners = append(s.Corners, f(i))
		}
		return s
	}
	rp := func(sc float32) [3]float32 {
		return [3]float32{sc * r.Float32(), sc * r.Float32(), sc * r.Float32()}
	}
	return map[string]*mesh.Soup{
		"random": mk(func(int) [3][3]float32 { return [3][3]float32{rp(100), rp(100), rp(100)} }),
		"tiny in one corner": mk(func(i int) [3][3]float32 {
			if i == 0 {
				return [3][3]float32{{0, 0, 0}, {1000, 1000, 0}, {0, 1000, 1000}}
			}
			return [3][3]float32{rp(1e-3), rp(1e-3), rp(1e-3)}
		}),
		"small random": mk(func(int) [3][3]float32 {
			p := rp(100)
			q, u := p, p
			q[0] += 0.1
			u[1] += 0.1
			return [3][3]float32{p, q, u}
		}),
		"fan": mk(func(i int) [3][3]float32 {
			return [3][3]float32{{0, 0, 0}, {float32(i), 1, 0}, {float32(i + 1), 1, 0}}
		}),
		"pages of one edge": mk(func(i int) [3][3]float32 { return [3][3]float32{{0, 0, 0}, {0, 0, 1}, rp(10)} }),
		"same facet":        mk(func(i int) [3][3]float32 { return [3][3]float32{{0, 0, 0}, {0, 0, 1}, {0, 1, 0}} }),
		"both ways": mk(func(i int) [3][3]float32 {
			if i%2 == 0 {
				return [3][3]float32{{0, 0, 0}, {0, 0, 1}, {0, 1, 0}}
			}
			return [3][3]float32{{0, 0, 0}, {0, 1, 0}, {0, 0, 1}}
		}),
		"pages both ways": mk(func(i int) [3][3]float32 {
			x := float32(i / 2)
			if i%2 == 0 {
				return [3][3]float32{{0, 0, 0}, {0, 0, 1}, {x, 1, 0}}
			}
			return [3][3]float32{{0, 0, 0}, {x, 1.5, 0}, {0, 0, 1}}
		}),
		"collinear": mk(func(i int) [3][3]float32 {
			return [3][3]float32{{float32(i), 0, 0}, {float32(i + 1), 0, 0}, {float32(i + 2), 0, 0}}
		}),
	}
}

// They are refused, each with its kind of error.
func TestHostileSoups(t *testing.T) {
	for name, s := range hostileSoups(8000) {
		t.Run(name, func(t *testing.T) {
			_, rep, err := mesh.Build(s, mesh.BuildOptions{})
			require.NotNil(t, rep)
			var e *mesh.NotSolidError
			if name == "both ways" || name == "collinear" {
				require.Error(t, err)
				return
			}
			require.ErrorAs(t, err, &e)
			require.Positive(t, e.Open+e.NonManifold)
		})
	}
}

// Time must grow with the facets, not with their square: compare the two sizes.
func BenchmarkBuildHostile(b *testing.B) {
	for _, n := range []int{20000, 100000} {
		soups := hostileSoups(n)
		for _, name := range slices.Sorted(maps.Keys(soups)) {
			b.Run(fmt.Sprintf("%s-%d", name, n), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, _, err := mesh.Build(soups[name], mesh.BuildOptions{}); err == nil {
						b.Fatal("not refused")
					}
				}
			})
		}
	}
}
