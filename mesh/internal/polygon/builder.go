package polygon

import (
	"fmt"

	"skinstock/mesh"
	"skinstock/mesh/file"
)

// Limits on single faces: what no honest file comes near, and what keeps a
// hostile one from taking hours.
const (
	MaxCorners = 1 << 16 // corners of one face
	maxClipped = 4096    // corners of one face that is not convex
	maxWork    = 1 << 30 // corner tests over all faces of a file
)

// Builder collects vertices and faces into a soup.
type Builder struct {
	Vertices  [][3]float32
	Soup      mesh.Soup
	MaxFacets int

	work  int
	flat  [][2]float64 // the face in its plane
	left  []int32      // corners of the face not yet cut off
	solid int          // first facet of the solid begun last
	name  string
}

// NewBuilder returns a builder that refuses more than maxFacets facets; 0 means file.MaxFacets.
func NewBuilder(maxFacets int) *Builder {
	if maxFacets <= 0 || maxFacets > file.MaxFacets {
		maxFacets = file.MaxFacets
	}
	return &Builder{MaxFacets: maxFacets}
}

// Face adds a face given by vertex numbers from 0 on, counterclockwise seen
// from outside. A triangle is taken as it is, a polygon is cut into
// len(corners)-2 triangles. The error is a *file.Error without a place.
func (b *Builder) Face(corners []int32) error {
	n := len(corners)
	if n < 3 {
		return fault(file.ErrVertexCount, "export triangles", "a face has %d corners", n)
	}
	if n > MaxCorners {
		return fault(file.ErrTooLarge, "export triangles", "a face has more than %d corners", MaxCorners)
	}
	for _, v := range corners {
		if v < 0 || int(v) >= len(b.Vertices) {
			return fault(file.ErrIndex, file.Export, "a face uses vertex %d of %d, counted from 0", v, len(b.Vertices))
		}
	}
	if len(b.Soup.Corners)+n-2 > b.MaxFacets {
		return fault(file.ErrTooLarge, "raise the limit, or coarsen the mesh", "more than %d facets, the limit set for one part", b.MaxFacets)
	}
	if n == 3 {
		b.triangle(corners[0], corners[1], corners[2])
		return nil
	}
	return b.cut(corners)
}

// Begin starts a new solid, unless the one before has no facets yet, which
// then only changes its name.
func (b *Builder) Begin(name string) {
	b.end()
	b.name = name
}

// end enters the solid begun last.
func (b *Builder) end() {
	if n := len(b.Soup.Corners); n > b.solid {
		b.Soup.Solids = append(b.Soup.Solids, mesh.Solid{Name: b.name, First: b.solid, Count: n - b.solid})
		b.solid = n
	}
}

// Finish returns the soup; one nameless solid is none.
func (b *Builder) Finish() mesh.Soup {
	b.end()
	if s := b.Soup.Solids; len(s) == 1 && s[0].Name == "" {
		b.Soup.Solids = nil
	}
	return b.Soup
}

func (b *Builder) triangle(i, j, k int32) {
	b.Soup.Corners = append(b.Soup.Corners, [3][3]float32{b.Vertices[i], b.Vertices[j], b.Vertices[k]})
}

func fault(kind error, remedy, format string, args ...any) error {
	return &file.Error{Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: remedy, Err: kind}
}
