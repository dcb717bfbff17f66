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
