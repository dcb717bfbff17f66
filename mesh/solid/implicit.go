package solid

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// cornerOffset numbers the corners of a grid cube: bit 0 x, bit 1 y, bit 2 z.
func cornerOffset(c int) (dx, dy, dz int) { return c & 1, c >> 1 & 1, c >> 2 & 1 }

// kuhn are the six tetrahedra of a cube around its diagonal 0-7, all of
// positive volume; neighbouring cubes agree on the diagonals of their faces.
var kuhn = [6][4]int{{0, 1, 3, 7}, {0, 3, 2, 7}, {0, 2, 6, 7}, {0, 6, 4, 7}, {0, 4, 5, 7}, {0, 5, 1, 7}}

// leastShare keeps a vertex off the grid points, so that no two vertices fall
// together in single precision.
const leastShare = 1e-3

// Implicit meshes the body inside the box by marching tetrahedra on a cubic
// grid of the given cell in mm. The result is closed (what reaches the box is
// cut flat by it) and, as voxel-born meshes are, full of slivers and aliased
// edges. Vertices lie on the body's surface to about 1e-6 of a cell.
func Implicit(b Body, lo, hi r3.Vector, cell float64) *mesh.Mesh {
	boxed := Common(b, Block(lo, hi))
	o := lo.Sub(r3.Vector{X: cell, Y: cell, Z: cell}.Mul(1.3819660113)) // off the faces of the box
	n := [3]int{}
	for i, l := range []float64{hi.X - o.X, hi.Y - o.Y, hi.Z - o.Z} {
		n[i] = int(math.Ceil(l/cell)) + 2
	}
	g := &marcher{body: boxed, o: o, cell: cell, nx: n[0], ny: n[1], m: &mesh.Mesh{}}
	g.run(n[2])
	return g.m
}

// marcher sweeps the grid upwards, two layers of grid points at a time.
type marcher struct {
	body   Body
	o      r3.Vector
	cell   float64
	nx, ny int
	m      *mesh.Mesh

	value [2][]float64 // of the lower and upper layer
	// made[l][7*i+d-1] is 1 + the vertex on the grid edge from point i of layer
	// l in the direction of cube corner d.
	made [2][]int32
}

func (g *marcher) point(x, y, z int) r3.Vector {
	return g.o.Add(r3.Vector{X: float64(x), Y: float64(y), Z: float64(z)}.Mul(g.cell))
}

func (g *marcher) run(nz int) {
	for l := range 2 {
		g.value[l] = make([]float64, g.nx*g.ny)
		g.made[l] = make([]int32, 7*g.nx*g.ny)
	}
	g.sample(0, 0)
	for z := 1; z < nz; z++ {
		g.sample(1, z)
		clear(g.made[1])
		for y := 0; y+1 < g.ny; y++ {
			for x := 0; x+1 < g.nx; x++ {
				g.cube(x, y, z-1)
			}
		}
		g.value[0], g.value[1] = g.value[1], g.value[0]
		g.made[0], g.made[1] = g.made[1], g.made[0]
	}
}

func (g *marcher) sample(layer, z int) {
	for y := range g.ny {
		for x := range g.nx {
			g.value[layer][y*g.nx+x] = g.body(g.point(x, y, z))
		}
	}
}

func (g *marcher) cube(x, y, z int) {
	var v [8]float64
	inside := 0
	for c := range 8 {
		dx, dy, dz := cornerOffset(c)
		v[c] = g.value[dz][(y+dy)*g.nx+x+dx]
		if v[c] < 0 {
			inside++
		}
	}
	if inside == 0 || inside == 8 {
		return
	}
	for _, t := range kuhn {
		g.tetrahedron(x, y, z, t, &v)
	}
}

// tetrahedron adds the one or two facets that part the inside corners from the outside ones.
func (g *marcher) tetrahedron(x, y, z int, t [4]int, v *[8]float64) {
	var in, out []int
	var a, b [4]int
	in, out = a[:0], b[:0]
	for _, c := range t {
		if v[c] < 0 {
			in = append(in, c)
		} else {
			out = append(out, c)
		}
	}
	e := func(i, o int) int32 { return g.edge(x, y, z, i, o, v) }
	switch len(in) {
	case 1:
		g.facet(x, y, z, in[0], out[0], e(in[0], out[0]), e(in[0], out[1]), e(in[0], out[2]))
	case 2:
		p, q, r, s := e(in[0], out[0]), e(in[0], out[1]), e(in[1], out[1]), e(in[1], out[0])
		g.facet(x, y, z, in[0], out[0], p, q, r)
		g.facet(x, y, z, in[0], out[0], p, r, s)
	case 3:
		g.facet(x, y, z, in[0], out[0], e(in[0], out[0]), e(in[1], out[0]), e(in[2], out[0]))
	}
}

// facet adds a facet wound so that cube corner in lies behind it. The winding
// follows from the corners' places, which is exact where the vertices are not:
// the vertices lie on edges, so their order has the sign of the tetrahedron's.
func (g *marcher) facet(x, y, z, in, out int, p, q, r int32) {
	a, b, c := g.m.Vertices[p], g.m.Vertices[q], g.m.Vertices[r]
	ix, iy, iz := cornerOffset(in)
	ox, oy, oz := cornerOffset(out)
	i, o := g.point(x+ix, y+iy, z+iz), g.point(x+ox, y+oy, z+oz)
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Dot(o.Sub(a))-n.Dot(i.Sub(a)) < 0 {
		q, r = r, q
	}
	g.m.Facets = append(g.m.Facets, [3]int32{p, q, r})
}

// edge returns the vertex on the grid edge between cube corners in and out.
func (g *marcher) edge(x, y, z, in, out int, v *[8]float64) int32 {
	low, high := min(in, out), max(in, out)
	dx, dy, dz := cornerOffset(low)
	slot := &g.made[dz][7*((y+dy)*g.nx+x+dx)+(high^low)-1]
	if *slot == 0 {
		ix, iy, iz := cornerOffset(in)
		ox, oy, oz := cornerOffset(out)
		g.m.Vertices = append(g.m.Vertices, g.cross(g.point(x+ix, y+iy, z+iz), g.point(x+ox, y+oy, z+oz), v[in], v[out]))
		*slot = int32(len(g.m.Vertices))
	}
	return *slot - 1
}

// cross finds where the surface crosses the segment from inside to outside.
func (g *marcher) cross(in, out r3.Vector, vin, vout float64) r3.Vector {
	lo, hi := 0.0, 1.0
	d := out.Sub(in)
	for i := range 40 {
		share := 0.5 // every other step halves: regula falsi alone can creep
		if i%2 == 0 {
			share = math.Min(math.Max(vin/(vin-vout), 0.02), 0.98)
		}
		t := lo + (hi-lo)*share
		v := g.body(in.Add(d.Mul(t)))
		if v < 0 {
			lo, vin = t, v
		} else {
			hi, vout = t, v
		}
		if v == 0 {
			lo = hi
		}
		if hi-lo < 1e-6 {
			break
		}
	}
	t := (lo + hi) / 2
	return in.Add(d.Mul(math.Min(math.Max(t, leastShare), 1-leastShare)))
}
