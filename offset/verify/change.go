package verify

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// change is in what two grown surfaces differ.
type change struct {
	both  mesh.Mesh // the facets that only one of them has
	moved []bool    // of the facets when both have the same, else nil
	same  []int32   // vertex of the one where each of the other lies, -1 for none; nil when both have the same facets
}

// move compares surfaces with the same facets.
func (c *change) move(a, b *mesh.Mesh, workers int) {
	c.moved = make([]bool, len(a.Facets))
	mesh.InChunks(len(a.Facets), workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := a.Facets[f]
			c.moved[f] = a.Vertices[t[0]] != b.Vertices[t[0]] || a.Vertices[t[1]] != b.Vertices[t[1]] || a.Vertices[t[2]] != b.Vertices[t[2]]
		}
	})
	for f, moved := range c.moved {
		if moved {
			c.add(a.Triangle(f))
			c.add(b.Triangle(f))
		}
	}
}

// swap compares any two surfaces, facet by facet, by the coordinates of the corners.
func (c *change) swap(a, b *mesh.Mesh) {
	c.without(a, tableOf(b))
	c.without(b, tableOf(a))
	c.same = samePlaces(a, b)
}

// samePlaces returns the vertex of a that lies where each vertex of b does, -1 for none.
func samePlaces(a, b *mesh.Mesh) []int32 {
	size := 16
	for size < 2*len(a.Vertices) {
		size *= 2
	}
	slot := make([]int32, size) // vertex of a plus one, 0 when free
	find := func(p r3.Vector) int {
		i := int(hashOf(p) & uint64(size-1))
		for slot[i] != 0 && a.Vertices[slot[i]-1] != p {
			i = (i + 1) & (size - 1)
		}
		return i
	}
	for v, p := range a.Vertices {
		slot[find(p)] = int32(v) + 1
	}
	same := make([]int32, len(b.Vertices))
	for v, p := range b.Vertices {
		same[v] = slot[find(p)] - 1
	}
	return same
}

// without adds the facets of m that the table lacks.
func (c *change) without(m *mesh.Mesh, t *facetTable) {
	for f := range m.Facets {
		if p, q, r := m.Triangle(f); !t.has(p, q, r) {
			c.add(p, q, r)
		}
	}
}

func (c *change) add(p, q, r r3.Vector) {
	n := int32(len(c.both.Vertices))
	c.both.Vertices = append(c.both.Vertices, p, q, r)
	c.both.Facets = append(c.both.Facets, [3]int32{n, n + 1, n + 2})
}

// facetTable finds facets by their corners: an open-addressing hash of facet numbers.
type facetTable struct {
	m    *mesh.Mesh
	slot []int32 // number of a facet plus one, 0 when free; a power of two, at most half full
}

func tableOf(m *mesh.Mesh) *facetTable {
	size := 16
	for size < 2*len(m.Facets) {
		size *= 2
	}
	t := &facetTable{m: m, slot: make([]int32, size)}
	for f := range m.Facets {
		i := t.first(m.Triangle(f))
		for t.slot[i] != 0 {
			i = (i + 1) & (size - 1)
		}
		t.slot[i] = int32(f) + 1
	}
	return t
}

// first is where the search for a facet begins; it does not depend on which corner comes first.
func (t *facetTable) first(p, q, r r3.Vector) int {
	return int((hashOf(p) + hashOf(q) + hashOf(r)) & uint64(len(t.slot)-1))
}

// has tells whether the table's mesh has a facet of these corners in this order.
func (t *facetTable) has(p, q, r r3.Vector) bool {
	for i := t.first(p, q, r); t.slot[i] != 0; i = (i + 1) & (len(t.slot) - 1) {
		a, b, c := t.m.Triangle(int(t.slot[i]) - 1)
		if a == p && b == q && c == r || b == p && c == q && a == r || c == p && a == q && b == r {
			return true
		}
	}
	return false
}

// hashOf mixes the bits of a point.
func hashOf(p r3.Vector) uint64 {
	h := math.Float64bits(p.X) * 0x9E3779B97F4A7C15
	h = (h ^ h>>32 ^ math.Float64bits(p.Y)) * 0xBF58476D1CE4E5B9
	h = (h ^ h>>32 ^ math.Float64bits(p.Z)) * 0x94D049BB133111EB
	return h ^ h>>32
}
