package polygon

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"skinstock/mesh/file"
)

// face returns a builder with the polygon's vertices and its corner numbers.
func face(p [][3]float32) (*Builder, []int32) {
	b := NewBuilder(0)
	b.Vertices = p
	c := make([]int32, len(p))
	for i := range c {
		c[i] = int32(i)
	}
	return b, c
}

// areas returns the vector sum of the triangles' areas and the sum of their sizes.
func areas(t [][3][3]float32) (sum [3]float64, size float64) {
	for _, f := range t {
		var u, v, n [3]float64
		for k := range 3 {
			u[k], v[k] = float64(f[1][k])-float64(f[0][k]), float64(f[2][k])-float64(f[0][k])
		}
		for k := range 3 {
			n[k] = (u[(k+1)%3]*v[(k+2)%3] - u[(k+2)%3]*v[(k+1)%3]) / 2
			sum[k] += n[k]
		}
		size += math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2])
	}
	return sum, size
}

// A polygon is cut right when its triangles all face one way and their areas
// add up to its own: then none overlaps and none is missing.
func TestFaceAreas(t *testing.T) {
	tests := []struct {
		name string
		p    [][3]float32
		area float64 // by hand
	}{
		{"square", [][3]float32{{0, 0, 1}, {2, 0, 1}, {2, 2, 1}, {0, 2, 1}}, 4},
		{"dart", [][3]float32{{0, 0, 0}, {4, 0, 0}, {1, 1, 0}, {0, 4, 0}}, 4},
		{"dart from its notch", [][3]float32{{1, 1, 0}, {0, 4, 0}, {0, 0, 0}, {4, 0, 0}}, 4},
		{"L, seen along x", [][3]float32{{5, 0, 0}, {5, 3, 0}, {5, 3, 1}, {5, 1, 1}, {5, 1, 3}, {5, 0, 3}}, 5},
		{"L, other way round", [][3]float32{{5, 0, 3}, {5, 1, 3}, {5, 1, 1}, {5, 3, 1}, {5, 3, 0}, {5, 0, 0}}, 5},
		{"corners on a straight side", [][3]float32{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}, {3, 1, 0}, {0, 1, 0}}, 3},
		{"square with a slit to its hole", [][3]float32{{0, 0, 0}, {3, 0, 0}, {3, 3, 0}, {0, 3, 0}, {0, 0, 0}, {1, 1, 0}, {1, 2, 0}, {2, 2, 0}, {2, 1, 0}, {1, 1, 0}}, 8},
	}
	for _, tt := range tests {
		b, c := face(tt.p)
		if err := b.Face(c); err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got := b.Finish().Corners
		sum, size := areas(got)
		norm := math.Sqrt(sum[0]*sum[0] + sum[1]*sum[1] + sum[2]*sum[2])
		if len(got) != len(tt.p)-2 || size != tt.area || norm != tt.area {
			t.Errorf("%s: %d triangles, area %v, facing %v, want %d, %v: %v", tt.name, len(got), size, norm, len(tt.p)-2, tt.area, got)
		}
	}
}

// Stars with corners at random distances are simple polygons; tilted, their
// area is that of the sectors. Single precision leaves 1e-5.
func TestFaceRandomStars(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		n := 4 + r.IntN(60)
		var p [][3]float32
		var want float64
		radius := make([]float64, n)
		for i := range radius {
			radius[i] = 1 + 9*r.Float64()
		}
		for i, d := range radius {
			a := 2 * math.Pi * float64(i) / float64(n)
			x, y := d*math.Cos(a), d*math.Sin(a)
			p = append(p, [3]float32{float32(x), float32(0.6 * y), float32(0.8 * y)})
			want += d * radius[(i+1)%n] * math.Sin(2*math.Pi/float64(n)) / 2
		}
		b, c := face(p)
		if err := b.Face(c); err != nil {
			t.Fatal(err)
		}
		if _, size := areas(b.Finish().Corners); math.Abs(size-want) > 1e-5*want {
			t.Errorf("%d corners: area %v, want %v", n, size, want)
		}
	}
}

func TestFaceRefuses(t *testing.T) {
	tests := []struct {
		name    string
		corners []int32
		err     error
	}{
		{"none", nil, file.ErrVertexCount},
		{"two", []int32{0, 1}, file.ErrVertexCount},
		{"beyond the last", []int32{0, 1, 4}, file.ErrIndex},
		{"negative", []int32{0, -1, 2}, file.ErrIndex},
		{"too many", make([]int32, MaxCorners+1), file.ErrTooLarge},
	}
	for _, tt := range tests {
		b, _ := face([][3]float32{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}})
		if err := b.Face(tt.corners); !errors.Is(err, tt.err) || len(b.Soup.Corners) > 0 {
			t.Errorf("%s: error %v, want %v", tt.name, err, tt.err)
		}
	}
	b, c := face([][3]float32{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}})
	b.MaxFacets = 1
	if err := b.Face(c); !errors.Is(err, file.ErrTooLarge) {
		t.Errorf("limit 1: error %v, want ErrTooLarge", err)
	}
}

func TestSolids(t *testing.T) {
	b, c := face([][3]float32{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}})
	add := func() {
		if err := b.Face(c); err != nil {
			t.Fatal(err)
		}
	}
	add()
	b.Begin("forgotten")
	b.Begin("a")
	add()
	add()
	s := b.Finish().Solids
	if len(s) != 2 || s[0].Name != "" || s[0].Count != 2 || s[1].Name != "a" || s[1].First != 2 || s[1].Count != 4 {
		t.Errorf("solids %+v", s)
	}
}
