package field

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// rooms measures how much room there is in front of places on a part.
type rooms struct {
	m    *mesh.Mesh
	tree *bvh.Tree
	most float64 // more room than this is not told apart, mm
}

func newRooms(m *mesh.Mesh, workers int) *rooms {
	lo, hi := m.Bounds()
	return &rooms{m: m, tree: bvh.New(m, workers), most: hi.Sub(lo).Norm()}
}

// facing is the cosine between normals from which a surface faces a place, not stands beside it.
const facing = -0.5

// at returns the room around p on the surface, where the outward normal is n,
// looking no further than limit: the lesser of the gap to what faces p and the
// shortest chord between walls around it a little above the surface. A slot
// gives its width, a bore its diameter on wall and bottom alike. A single wall
// beside p, as in an inner corner, gives nothing: there the flux is smooth.
func (g *rooms) at(p, n r3.Vector, limit float64) float64 {
	if n == (r3.Vector{}) {
		return limit
	}
	room := limit
	if h, ok := g.tree.Ray(p, n, 1e-6*g.most, limit); ok {
		room = h.T
	}
	room = math.Min(room, 2*g.ball(p, n, room/2, facing))
	c := p.Add(n.Mul(math.Min(room, limit) / 8))
	u := n.Ortho()
	v := n.Cross(u)
	for _, d := range [4]r3.Vector{u, v, u.Add(v).Mul(math.Sqrt2 / 2), u.Sub(v).Mul(math.Sqrt2 / 2)} {
		if h, ok := g.tree.Ray(c, d, 0, room); ok {
			if o, ok := g.tree.Ray(c, d.Mul(-1), 0, room-h.T); ok {
				room = h.T + o.T
			}
		}
	}
	return room
}

// ball returns the radius of the largest empty ball that touches the surface at
// p, at most r: it shrinks until no surface is left in it, or none with a
// normal turned from n by more than the cosine says.
func (g *rooms) ball(p, n r3.Vector, r, cosine float64) float64 {
	hint := bvh.NoHint
	for range 12 {
		c := p.Add(n.Mul(r))
		q, ok := g.tree.ClosestWithin(c, r*(1-1e-4), hint)
		if !ok {
			break
		}
		hint = q.Facet
		d := q.Point.Sub(p)
		along := d.Dot(n)
		if g.m.FacetNormal(q.Facet).Dot(n) > cosine || along <= 1e-9*g.most {
			break
		}
		r = math.Min(0.999*r, d.Norm2()/(2*along))
	}
	return r
}
