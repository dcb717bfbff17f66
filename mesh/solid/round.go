package solid

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Icosphere returns a sphere of radius r about the origin: an icosahedron
// halved level times, 20*4^level facets with all vertices on the sphere.
func Icosphere(r float64, level int) *mesh.Mesh {
	p := (1 + math.Sqrt(5)) / 2
	m := &mesh.Mesh{
		Vertices: []r3.Vector{
			{X: -1, Y: p},
			{X: 1, Y: p},
			{X: -1, Y: -p},
			{X: 1, Y: -p},
			{Y: -1, Z: p},
			{Y: 1, Z: p},
			{Y: -1, Z: -p},
			{Y: 1, Z: -p},
			{X: p, Z: -1},
			{X: p, Z: 1},
			{X: -p, Z: -1},
			{X: -p, Z: 1},
		},
		Facets: [][3]int32{
			{0, 11, 5},
			{0, 5, 1},
			{0, 1, 7},
			{0, 7, 10},
			{0, 10, 11},
			{1, 5, 9},
			{5, 11, 4},
			{11, 10, 2},
			{10, 7, 6},
			{7, 1, 8},
			{3, 9, 4},
			{3, 4, 2},
			{3, 2, 6},
			{3, 6, 8},
			{3, 8, 9},
			{4, 9, 5},
			{2, 4, 11},
			{6, 2, 10},
			{8, 6, 7},
			{9, 8, 1},
		},
	}
	for range level {
		m = Halve(m)
		project(m, r)
	}
	project(m, r)
	return m
}

func project(m *mesh.Mesh, r float64) {
	for i, v := range m.Vertices {
		m.Vertices[i] = v.Normalize().Mul(r)
	}
}

// Halve splits every facet into four at the middles of its edges; the shape stays.
func Halve(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: append([]r3.Vector(nil), m.Vertices...)}
	mid := make(map[[2]int32]int32, 3*len(m.Facets)/2)
	middle := func(a, b int32) int32 {
		k := [2]int32{min(a, b), max(a, b)}
		i, ok := mid[k]
		if !ok {
			i = int32(len(out.Vertices))
			mid[k] = i
			out.Vertices = append(out.Vertices, m.Vertices[k[0]].Add(m.Vertices[k[1]]).Mul(0.5))
		}
		return i
	}
	for _, t := range m.Facets {
		a, b, c := middle(t[0], t[1]), middle(t[1], t[2]), middle(t[2], t[0])
		out.Facets = append(out.Facets, [3]int32{t[0], a, c}, [3]int32{t[1], b, a}, [3]int32{t[2], c, b}, [3]int32{a, b, c})
	}
	return out
}

// Ring is a point of a profile to be turned about the z axis: radius R at height Z.
type Ring struct{ R, Z float64 }

// Revolve turns an open profile that begins and ends on the axis (R == 0) by n
// steps about z. The profile runs so that the metal is on its left when the
// radius points right and z up: from the lowest point to the highest.
func Revolve(profile []Ring, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	first := make([]int32, len(profile))
	for i, p := range profile {
		first[i] = int32(len(m.Vertices))
		if p.R == 0 {
			m.Vertices = append(m.Vertices, r3.Vector{Z: p.Z})
			continue
		}
		m.Vertices = append(m.Vertices, circle(p.R, p.Z, n)...)
	}
	for i := 1; i < len(profile); i++ {
		a, b := first[i-1], first[i]
		for k := range int32(n) {
			l := (k + 1) % int32(n)
			switch {
			case profile[i-1].R == 0:
				m.Facets = append(m.Facets, [3]int32{a, b + l, b + k})
			case profile[i].R == 0:
				m.Facets = append(m.Facets, [3]int32{a + k, a + l, b})
			default:
				m.Facets = append(m.Facets, [3]int32{a + k, a + l, b + l}, [3]int32{a + k, b + l, b + k})
			}
		}
	}
	return m
}

// RevolveLoop turns a closed profile clear of the axis, counterclockwise with
// the radius to the right and z up, by n steps about z.
func RevolveLoop(profile []Ring, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, p := range profile {
		m.Vertices = append(m.Vertices, circle(p.R, p.Z, n)...)
	}
	for i := range profile {
		a, b := int32(i*n), int32((i+1)%len(profile)*n)
		for k := range int32(n) {
			l := (k + 1) % int32(n)
			m.Facets = append(m.Facets, [3]int32{a + k, a + l, b + l}, [3]int32{a + k, b + l, b + k})
		}
	}
	return m
}

func circle(r, z float64, n int) []r3.Vector {
	c := make([]r3.Vector, n)
	for k := range c {
		s, t := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		c[k] = r3.Vector{X: r * t, Y: r * s, Z: z}
	}
	return c
}

// Cylinder stands on z = 0 about the z axis: radius r, height h, n sides.
func Cylinder(r, h float64, n int) *mesh.Mesh {
	return Revolve([]Ring{{0, 0}, {r, 0}, {r, h}, {0, h}}, n)
}

// Cone stands on z = 0 with its apex at height h: base radius r, n sides.
func Cone(r, h float64, n int) *mesh.Mesh { return Revolve([]Ring{{0, 0}, {r, 0}, {0, h}}, n) }

// Tube stands on z = 0 about the z axis: outer radius ro, bore radius ri, height h, n sides.
func Tube(ro, ri, h float64, n int) *mesh.Mesh {
	return RevolveLoop([]Ring{{ri, 0}, {ro, 0}, {ro, h}, {ri, h}}, n)
}

// Torus lies about the origin in the plane z = 0: radius major to the middle of
// the ring, radius minor of the ring, nu steps round the axis, nv round the ring.
func Torus(major, minor float64, nu, nv int) *mesh.Mesh {
	p := make([]Ring, nv)
	for i := range p {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(nv))
		p[i] = Ring{major + minor*c, minor * s}
	}
	return RevolveLoop(p, nu)
}

// Capsule is a cylinder of radius r and length l along z about the origin with
// half spheres on both ends: n sides, rings steps in each half sphere.
func Capsule(r, l float64, n, rings int) *mesh.Mesh {
	var p []Ring
	for i := -rings; i <= rings; i++ {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / float64(rings))
		switch {
		case i == -rings || i == rings:
			p = append(p, Ring{0, r*s + math.Copysign(l/2, s)})
		case i == 0:
			p = append(p, Ring{r, -l / 2}, Ring{r, l / 2})
		default:
			p = append(p, Ring{r * c, r*s + math.Copysign(l/2, s)})
		}
	}
	return Revolve(p, n)
}
