package verify

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// change is in what two grown surfaces differ.
type change struct {
	both   mesh.Mesh // the facets that only one of them has
	moved  []bool    // of the facets when both have the same, else nil
	kept   []int32   // facet of the one that each of the other is, corner for corner, -1 for none; nil when both have the same facets
	same   []int32   // likewise vertex of the one that the facets kept have in the place of each of the other
	beside []bool    // vertices of the other that facets have which the one has not; nil for all
}

// spread marks the vertices of what is new in m, the surface after the change: the edges
// of facets around them can turn from ridge to valley.
func (c *change) spread(m *mesh.Mesh, workers int) {
	if c.moved == nil && c.kept == nil {
		return
	}
	c.beside = make([]bool, len(m.Vertices))
	anew := func(f int) bool { return c.moved != nil && c.moved[f] || c.kept != nil && c.kept[f] < 0 }
	for _, f := range mesh.Which(len(m.Facets), workers, anew) {
		t := m.Facets[f]
		c.beside[t[0]], c.beside[t[1]], c.beside[t[2]] = true, true, true
	}
}

// near tells whether one of the facets of m from from to to is new or beside a new one.
func (c *change) near(m *mesh.Mesh, from, to int) bool {
	for _, t := range m.Facets[from:to] {
		if c.beside[t[0]] || c.beside[t[1]] || c.beside[t[2]] {
			return true
		}
	}
	return false
}

// move compares surfaces with the same facets.
func (c *change) move(a, b *mesh.Mesh, workers int) {
	c.moved = mesh.Differ(a, b, workers)
	for _, f := range mesh.Which(len(c.moved), workers, func(f int) bool { return c.moved[f] }) {
		c.add(a.Triangle(int(f)))
		c.add(b.Triangle(int(f)))
	}
}

// swap compares surfaces by the facets of the same number.
func (c *change) swap(a, b *mesh.Mesh, numbersA, numbersB []int32) {
	c.kept, c.same = none(len(b.Facets)), none(len(b.Vertices))
	endA, endB := len(a.Facets), len(b.Facets)
	for i, j := 0, 0; i < endA || j < endB; {
		n := min(numberOf(numbersA, i, endA), numberOf(numbersB, j, endB))
		i2, j2 := i, j
		for numberOf(numbersA, i2, endA) == n {
			i2++
		}
		for ; numberOf(numbersB, j2, endB) == n; j2++ {
			k := i
			for k < min(i2, i+lookAhead) && !alike(a, k, b, j2) {
				k++
			}
			if k == min(i2, i+lookAhead) {
				c.add(b.Triangle(j2))
				continue
			}
			for ; i < k; i++ {
				c.add(a.Triangle(i))
			}
			i++
			c.kept[j2] = int32(k)
			for l, v := range b.Facets[j2] {
				c.same[v] = a.Facets[k][l]
			}
		}
		for ; i < i2; i++ {
			c.add(a.Triangle(i))
		}
		j = j2
	}
}

// lookAhead bounds the search among facets of one number. What it does not find
// is measured as new, which does no harm.
const lookAhead = 64

// numberOf is the number of a facet, beyond all numbers at the end.
func numberOf(numbers []int32, f, end int) int {
	switch {
	case f == end:
		return math.MaxInt
	case numbers == nil:
		return f
	default:
		return int(numbers[f])
	}
}

// alike tells whether the facets have their corners in the same places.
func alike(a *mesh.Mesh, f int, b *mesh.Mesh, g int) bool {
	for k := range 3 {
		if a.Corner(f, k) != b.Corner(g, k) {
			return false
		}
	}
	return true
}

// none returns n times mesh.None.
func none(n int) []int32 {
	out := make([]int32, n)
	for i := range out {
		out[i] = mesh.None
	}
	return out
}

func (c *change) add(p, q, r r3.Vector) {
	n := int32(len(c.both.Vertices))
	c.both.Vertices = append(c.both.Vertices, p, q, r)
	c.both.Facets = append(c.both.Facets, [3]int32{n, n + 1, n + 2})
}
