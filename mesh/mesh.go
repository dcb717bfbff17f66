package mesh

import "github.com/golang/geo/r3"

// Mesh is an indexed triangle mesh. Lengths are mm.
type Mesh struct {
	Vertices []r3.Vector
	Facets   [][3]int32 // vertex numbers, counterclockwise from outside

	// Source[i] is the facet of the input file that facet i came from, or -1
	// for a facet made by repair or rebuilding. Nil means Source[i] == i.
	Source []int32

	// Attributes are the attribute words of an STL file, one a facet; nil when all are zero.
	Attributes []uint16

	// Solids are the named runs of facets of the input, in file order; nil for one nameless run.
	Solids []Solid
}

// Solid is a named run of facets: Count facets from First on.
type Solid struct {
	Name         string
	First, Count int
}

// Soup is what a file holds before welding: facets with corners of their own,
// in file units and single precision, which is all an STL file can carry.
type Soup struct {
	Before     int             // facets that a Welder has taken: they come before those of Corners
	Corners    [][3][3]float32 // facet, corner, xyz
	Attributes []uint16        // one a facet, or nil when all are zero
	Solids     []Solid
}

// Len returns the number of facets, those that a Welder has taken included.
func (s *Soup) Len() int { return s.Before + len(s.Corners) }

// Clone returns a deep copy.
func (m *Mesh) Clone() *Mesh {
	return &Mesh{
		Vertices:   append([]r3.Vector(nil), m.Vertices...),
		Facets:     append([][3]int32(nil), m.Facets...),
		Source:     append([]int32(nil), m.Source...),
		Attributes: append([]uint16(nil), m.Attributes...),
		Solids:     append([]Solid(nil), m.Solids...),
	}
}

// WithVertices returns a mesh of the same facets on other vertices. The facet
// slices are shared, the receiver is not changed.
func (m *Mesh) WithVertices(v []r3.Vector) *Mesh {
	c := *m
	c.Vertices = v
	return &c
}

// Corner returns corner k (0, 1 or 2) of facet f.
func (m *Mesh) Corner(f, k int) r3.Vector { return m.Vertices[m.Facets[f][k]] }

// Triangle returns the three corners of facet f.
func (m *Mesh) Triangle(f int) (a, b, c r3.Vector) {
	t := m.Facets[f]
	return m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
}

// Centroid returns the mean of the corners of facet f.
func (m *Mesh) Centroid(f int) r3.Vector {
	a, b, c := m.Triangle(f)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// AreaNormal returns the normal of facet f with twice the facet's area as its length, in mm2.
func (m *Mesh) AreaNormal(f int) r3.Vector {
	a, b, c := m.Triangle(f)
	return b.Sub(a).Cross(c.Sub(a))
}

// FacetNormal returns the outward unit normal of facet f, or the zero vector for a facet of no area.
func (m *Mesh) FacetNormal(f int) r3.Vector { return m.AreaNormal(f).Normalize() }

// FacetArea returns the area of facet f in mm2.
func (m *Mesh) FacetArea(f int) float64 { return 0.5 * m.AreaNormal(f).Norm() }

// Bounds returns the corners of the axis-parallel box around all vertices, in
// mm; both are zero for a mesh without vertices.
func (m *Mesh) Bounds() (lo, hi r3.Vector) {
	if len(m.Vertices) == 0 {
		return lo, hi
	}
	type box struct{ lo, hi r3.Vector }
	parts := make([]box, (len(m.Vertices)+Chunk-1)/Chunk)
	InChunks(len(m.Vertices), 0, func(from, to int) {
		b := &parts[from/Chunk]
		b.lo, b.hi = bounds(m.Vertices[from:to])
	})
	lo, hi = parts[0].lo, parts[0].hi
	for _, p := range parts[1:] {
		lo, hi = lower(lo, p.lo), upper(hi, p.hi)
	}
	return lo, hi
}

// bounds returns the box around one point or more.
func bounds(at []r3.Vector) (lo, hi r3.Vector) {
	lo, hi = at[0], at[0]
	for i := range at {
		widen(&lo, &hi, &at[i])
	}
	return lo, hi
}

// widen makes a box hold v too. Plain comparisons: min and max cost three times as much.
func widen(lo, hi, v *r3.Vector) {
	if v.X < lo.X {
		lo.X = v.X
	} else if v.X > hi.X {
		hi.X = v.X
	}
	if v.Y < lo.Y {
		lo.Y = v.Y
	} else if v.Y > hi.Y {
		hi.Y = v.Y
	}
	if v.Z < lo.Z {
		lo.Z = v.Z
	} else if v.Z > hi.Z {
		hi.Z = v.Z
	}
}

// Area returns the surface area in mm2.
func (m *Mesh) Area() float64 {
	return sum(len(m.Facets), func(from, to int) (s float64) {
		for f := from; f < to; f++ {
			s += m.FacetArea(f)
		}
		return s
	})
}

// Volume returns the enclosed volume in mm3 by signed tetrahedra over the
// middle of the box, negative for a mesh turned inside out. It means a volume
// only when the mesh is closed.
func (m *Mesh) Volume() float64 {
	lo, hi := m.Bounds()
	return m.volumeAbout(lo.Add(hi).Mul(0.5))
}

// volumeAbout is Volume by tetrahedra over o.
func (m *Mesh) volumeAbout(o r3.Vector) float64 {
	return sum(len(m.Facets), func(from, to int) (s float64) {
		for f := from; f < to; f++ {
			a, b, c := m.Triangle(f)
			s += a.Sub(o).Dot(b.Sub(o).Cross(c.Sub(o)))
		}
		return s
	}) / 6
}

// Measures are those of a whole mesh: its box, mm, area and volume.
type Measures struct {
	Lo, Hi             r3.Vector
	AreaMM2, VolumeMM3 float64
}

// Measures returns Bounds, Area and Volume.
func (m *Mesh) Measures() Measures {
	lo, hi := m.Bounds()
	return Measures{lo, hi, m.Area(), m.volumeAbout(lo.Add(hi).Mul(0.5))}
}

// SourceOf returns the input facet that facet f came from, or -1 for a new one.
func (m *Mesh) SourceOf(f int) int {
	if m.Source == nil {
		return f
	}
	return int(m.Source[f])
}

// Differ marks the facets of two meshes with the same facets that have a corner in another place.
func Differ(a, b *Mesh, workers int) []bool {
	out := make([]bool, len(a.Facets))
	InChunks(len(out), workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := a.Facets[f]
			out[f] = a.Vertices[t[0]] != b.Vertices[t[0]] || a.Vertices[t[1]] != b.Vertices[t[1]] || a.Vertices[t[2]] != b.Vertices[t[2]]
		}
	})
	return out
}

// RoundToFloat32 rounds every vertex to the nearest value a binary STL file can hold.
func (m *Mesh) RoundToFloat32() { roundInto(m.Vertices, m.Vertices) }

// Rounded returns the points rounded to the nearest values a binary STL file can hold.
func Rounded(points []r3.Vector) []r3.Vector {
	out := make([]r3.Vector, len(points))
	roundInto(out, points)
	return out
}

func roundInto(out, points []r3.Vector) {
	InChunks(len(points), 0, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			v := points[i]
			out[i] = r3.Vector{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
		}
	})
}
