package render

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
)

// Model is a mesh made ready for drawing. It is not changed by drawing and can
// be drawn from many goroutines.
type Model struct {
	Mesh *mesh.Mesh

	// Edges are the feature edges as pairs of vertices, in order of the facets.
	Edges [][2]int32

	// normals are the shading normals at every facet's corners.
	normals [][3]normal
}

// normal is a unit vector in single precision.
type normal struct{ x, y, z float32 }

// ModelOptions tells how a mesh is made ready.
type ModelOptions struct {
	// FeatureAngle is the angle between facet normals from which an edge is
	// drawn as a line and shading breaks; 0 means 35 degrees.
	FeatureAngle s1.Angle

	// MinFeatureMM is the length below which a connected group of feature
	// edges is not drawn; 0 means a thirtieth of the box's diagonal, negative
	// draws all. It keeps the noise of voxel-born meshes out of the picture.
	MinFeatureMM float64

	Workers int // 0 means GOMAXPROCS
}

// maxFan is the number of facets around a vertex up to which their normals are
// averaged. Work grows with its square, and a fan that wide is a flat face or a tip.
const maxFan = 96

// NewModel makes a mesh ready for drawing. The topology may be nil.
func NewModel(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt ModelOptions) (*Model, error) {
	if opt.FeatureAngle == 0 {
		opt.FeatureAngle = 35 * s1.Degree
	}
	if topo == nil {
		topo = m.Topology()
	}
	lim := math.Cos(opt.FeatureAngle.Radians())
	mod := &Model{Mesh: m, normals: make([][3]normal, len(m.Facets))}

	flat := make([]r3.Vector, len(m.Facets)) // twice the area long
	err := chunks(ctx, len(m.Facets), opt.Workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			flat[f] = m.AreaNormal(f)
		}
	})
	if err != nil {
		return nil, err
	}
	in := m.Incidence()
	err = chunks(ctx, len(m.Vertices), opt.Workers, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			mod.smooth(flat, in.Of(int32(v)), lim)
		}
	})
	if err != nil {
		return nil, err
	}
	mod.Edges = featureEdges(m, topo, flat, lim, opt.MinFeatureMM)
	return mod, ctx.Err()
}

// smooth sets the shading normals of the corners around one vertex: the
// area-weighted mean over the facets that are not across a feature edge.
func (mod *Model) smooth(flat []r3.Vector, corners []int32, lim float64) {
	for _, c := range corners {
		n := flat[c/3]
		ln := n.Norm()
		sum := n
		if len(corners) <= maxFan {
			sum = r3.Vector{}
			for _, d := range corners {
				o := flat[d/3]
				if ln == 0 || n.Dot(o) >= lim*ln*o.Norm() {
					sum = sum.Add(o)
				}
			}
		}
		u := sum.Normalize()
		mod.normals[c/3][c%3] = normal{float32(u.X), float32(u.Y), float32(u.Z)}
	}
}

// featureEdges returns open edges and edges sharper than the limit, without
// groups shorter than the least length.
func featureEdges(m *mesh.Mesh, topo *mesh.Topology, flat []r3.Vector, lim, least float64) [][2]int32 {
	var edges [][2]int32
	for h := range topo.Twin {
		t := topo.Twin[h]
		if t != mesh.None && int(t) < h {
			continue
		}
		if t != mesh.None {
			n, o := flat[h/3], flat[t/3]
			p := n.Norm() * o.Norm()
			// A facet of no area has no direction and makes no feature.
			if p == 0 || n.Dot(o) >= lim*p {
				continue
			}
		}
		edges = append(edges, [2]int32{m.Origin(int32(h)), m.Target(int32(h))})
	}
	if least == 0 {
		lo, hi := m.Bounds()
		least = hi.Sub(lo).Norm() / 30
	}
	return longGroups(m, edges, least)
}

// longGroups keeps the edges whose connected group has at least the given length.
func longGroups(m *mesh.Mesh, edges [][2]int32, least float64) [][2]int32 {
	root := make([]int32, len(m.Vertices))
	for i := range root {
		root[i] = int32(i)
	}
	find := func(v int32) int32 {
		for root[v] != v {
			root[v] = root[root[v]]
			v = root[v]
		}
		return v
	}
	for _, e := range edges {
		a, b := find(e[0]), find(e[1])
		root[max(a, b)] = min(a, b)
	}
	length := make([]float64, len(m.Vertices))
	for _, e := range edges {
		length[find(e[0])] += m.Vertices[e[0]].Distance(m.Vertices[e[1]])
	}
	kept := edges[:0]
	for _, e := range edges {
		if length[find(e[0])] >= least {
			kept = append(kept, e)
		}
	}
	return kept
}
