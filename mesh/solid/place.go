package solid

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
)

// Rotation is a turn about a unit axis through the origin.
type Rotation struct {
	Axis  r3.Vector
	Angle s1.Angle
}

// Apply returns v turned (Rodrigues' formula).
func (r Rotation) Apply(v r3.Vector) r3.Vector {
	k := r.Axis.Normalize()
	s, c := math.Sincos(r.Angle.Radians())
	return v.Mul(c).Add(k.Cross(v).Mul(s)).Add(k.Mul(k.Dot(v) * (1 - c)))
}

// Move returns a copy of m turned by rot and then shifted by t.
func Move(m *mesh.Mesh, rot Rotation, t r3.Vector) *mesh.Mesh {
	return Map(m, func(v r3.Vector) r3.Vector { return rot.Apply(v).Add(t) })
}

// Shift returns a copy of m shifted by t.
func Shift(m *mesh.Mesh, t r3.Vector) *mesh.Mesh {
	return Map(m, func(v r3.Vector) r3.Vector { return v.Add(t) })
}

// Map returns a copy of m with every vertex v at f(v).
func Map(m *mesh.Mesh, f func(r3.Vector) r3.Vector) *mesh.Mesh {
	c := m.Clone()
	for i, v := range c.Vertices {
		c.Vertices[i] = f(v)
	}
	return c
}

// Reverse returns a copy of m turned inside out.
func Reverse(m *mesh.Mesh) *mesh.Mesh {
	c := m.Clone()
	for i, t := range c.Facets {
		c.Facets[i] = [3]int32{t[0], t[2], t[1]}
	}
	return c
}

// Merge puts meshes side by side into one, sharing nothing.
func Merge(ms ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, m := range ms {
		base := int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices...)
		for _, t := range m.Facets {
			out.Facets = append(out.Facets, [3]int32{base + t[0], base + t[1], base + t[2]})
		}
	}
	return out
}

// Soup returns the loose facets of m in single precision, as a file of it would hold them.
func Soup(m *mesh.Mesh) *mesh.Soup {
	s := &mesh.Soup{Corners: make([][3][3]float32, len(m.Facets))}
	for f := range m.Facets {
		for k := range 3 {
			v := m.Corner(f, k)
			s.Corners[f][k] = [3]float32{float32(v.X), float32(v.Y), float32(v.Z)}
		}
	}
	return s
}
