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

	// The shading normals: by vertex where the surface around it is smooth, and by
	// the corners of the facets that have a vertex of which that is not so.
	round   []normal
	corners [][3]normal
	own     []int32 // by facet: its place in corners, or -1
}

// normal is a unit vector in single precision.
type normal struct{ x, y, z float32 }

// ModelOptions tells how a mesh is made ready.
type ModelOptions struct {
	// FeatureAngle is the angle between facet normals from which an edge is
	// drawn as a line and shading breaks; 0 means 40 degrees.
	FeatureAngle s1.Angle

	// MinFeatureMM is the length below which a connected group of feature
	// edges is not drawn; 0 means a sixteenth of the box's diagonal, negative
	// draws all. It keeps the noise of voxel-born meshes out of the picture.
	MinFeatureMM float64

	// EdgesOf is another model of the same facets whose feature edges this one
	// takes over instead of looking for its own; nil for none.
	EdgesOf *Model

	Workers int // 0 means GOMAXPROCS
}

// maxFan is the number of facets around a vertex up to which their normals are
// averaged. Work grows with its square, and a fan that wide is a flat face or a tip.
const maxFan = 96

// NewModel makes a mesh ready for drawing. The topology may be nil.
func NewModel(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt ModelOptions) (*Model, error) {
	if opt.FeatureAngle == 0 {
		opt.FeatureAngle = 40 * s1.Degree
	}
	lim := math.Cos(opt.FeatureAngle.Radians())
	mod := &Model{Mesh: m}

	flat := make([]r3.Vector, len(m.Facets)) // twice the area long
	err := chunks(ctx, len(m.Facets), opt.Workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			flat[f] = m.AreaNormal(f)
		}
	})
	if err != nil {
		return nil, err
	}
	if err := mod.shade(ctx, flat, lim, opt.Workers); err != nil {
		return nil, err
	}
	if opt.EdgesOf != nil {
		mod.Edges = opt.EdgesOf.Edges
		return mod, nil
	}
	if topo == nil {
		topo = m.Topology()
	}
	mod.Edges, err = featureEdges(ctx, m, topo, flat, lim, opt)
	return mod, err
}

// shade finds the shading normals.
func (mod *Model) shade(ctx context.Context, flat []r3.Vector, lim float64, workers int) error {
	m, in := mod.Mesh, mod.Mesh.Incidence()
	mod.round = make([]normal, len(m.Vertices))
	bent := make([]bool, len(m.Vertices))
	err := chunks(ctx, len(m.Vertices), workers, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			corners := in.Of(int32(v))
			if bent[v] = !smooth(flat, corners, lim); !bent[v] {
				mod.round[v] = mean(flat, corners, func(r3.Vector) bool { return true })
			}
		}
	})
	if err != nil {
		return err
	}
	mod.own = make([]int32, len(m.Facets))
	count := int32(0)
	for f, t := range m.Facets {
		mod.own[f] = -1
		if bent[t[0]] || bent[t[1]] || bent[t[2]] {
			mod.own[f] = count
			count++
		}
	}
	mod.corners = make([][3]normal, count)
	return chunks(ctx, len(m.Vertices), workers, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			corners := in.Of(int32(v))
			for _, c := range corners {
				if o := mod.own[c/3]; o >= 0 && bent[v] {
					mod.corners[o][c%3] = cornerNormal(flat, corners, c, lim)
				} else if o >= 0 {
					mod.corners[o][c%3] = mod.round[v]
				}
			}
		}
	})
}

// smooth tells whether no two facets around a vertex are across a feature edge.
func smooth(flat []r3.Vector, corners []int32, lim float64) bool {
	if len(corners) > maxFan {
		return false
	}
	for i, c := range corners {
		n := flat[c/3]
		ln := n.Norm()
		for _, d := range corners[i+1:] {
			if o := flat[d/3]; !(n.Dot(o) >= lim*ln*o.Norm()) {
				return false
			}
		}
	}
	return true
}

// cornerNormal is the area-weighted mean over the facets around a vertex that
// are not across a feature edge from that of one corner.
func cornerNormal(flat []r3.Vector, corners []int32, c int32, lim float64) normal {
	n := flat[c/3]
	ln := n.Norm()
	if len(corners) > maxFan {
		corners = []int32{c}
	}
	return mean(flat, corners, func(o r3.Vector) bool { return ln == 0 || n.Dot(o) >= lim*ln*o.Norm() })
}

// mean is the direction of the sum of those facets' normals that are let in.
func mean(flat []r3.Vector, corners []int32, in func(r3.Vector) bool) normal {
	var sum r3.Vector
	for _, d := range corners {
		if o := flat[d/3]; in(o) {
			sum = sum.Add(o)
		}
	}
	u := sum.Normalize()
	return normal{float32(u.X), float32(u.Y), float32(u.Z)}
}

// at returns the shading normals at a facet's corners.
func (mod *Model) at(f int) (a, b, c normal) {
	if o := mod.own[f]; o >= 0 {
		n := &mod.corners[o]
		return n[0], n[1], n[2]
	}
	t := &mod.Mesh.Facets[f]
	return mod.round[t[0]], mod.round[t[1]], mod.round[t[2]]
}
