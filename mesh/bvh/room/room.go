package room

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh/bvh"
)

// Options say what counts as opposite.
type Options struct {
	// Blind is the angle between normals up to which a facet is not seen; 0 takes 60 degrees.
	// Above 90 degrees only surfaces that face the place are seen.
	Blind s1.Angle
	// Most is the greatest distance looked for, in mm; 0 looks through the whole part.
	Most    float64
	Workers int // goroutines; 0 takes GOMAXPROCS
}

const defaultBlind = 60 * s1.Degree

// Distance is how far it is from a place to what lies opposite, in mm.
// Both are infinite when nothing lies within the distance looked for.
type Distance struct {
	Ball float64 // diameter of the largest touching ball
	Ray  float64 // straight along the normal

	Facet int32      // facet the ball meets, or the ray when the ball meets none; -1 for none
	Bary  [3]float64 // where on it
}

// Place holds the room in front of a place and the thickness behind it.
type Place struct {
	Front, Behind Distance
}

// Gauge measures. It is safe for use by many goroutines.
type Gauge struct {
	tree   *bvh.Tree
	facing *bvh.Facing
	cos    float64 // of the blind angle
	most   float64
	opt    Options
}

// New returns a gauge for the tree's mesh.
func New(t *bvh.Tree, opt Options) *Gauge {
	if opt.Blind <= 0 {
		opt.Blind = defaultBlind
	}
	m := t.Mesh()
	g := &Gauge{tree: t, facing: t.Facing(opt.Workers), cos: math.Cos(opt.Blind.Radians()), most: opt.Most, opt: opt}
	if g.most <= 0 {
		lo, hi := m.Bounds()
		g.most = 1.01*hi.Distance(lo) + 1e-9
	}
	return g
}

// Normal returns the unit normal of facet f.
func (g *Gauge) Normal(f int) r3.Vector { return g.facing.Normal(f) }

// At measures both sides of the place p of the surface with unit normal n.
func (g *Gauge) At(p, n r3.Vector) Place {
	return Place{Front: g.Front(p, n), Behind: g.behind(p, n)}
}

// Front measures the free distance in front of p, along n.
func (g *Gauge) Front(p, n r3.Vector) Distance { return g.look(p, n, n) }

func (g *Gauge) behind(p, n r3.Vector) Distance { return g.look(p, n, n.Mul(-1)) }

// look measures from p in direction d; n is the normal that facets are compared with.
func (g *Gauge) look(p, n, d r3.Vector) Distance {
	out := Distance{Ball: math.Inf(1), Ray: math.Inf(1), Facet: -1}
	side := -1 // the ray enters the metal in front and leaves it behind; its own facet it meets the other way
	if d != n {
		side = 1
	}
	r := g.most / 2
	h, ok := g.tree.RayWhere(p, d, 1e-9*g.most, g.most, func(h bvh.RayHit) bool { return h.Side == side })
	if ok {
		r = min(r, h.T/2)
	}
	if ok && g.facing.Sees(h.Facet, n, g.cos) {
		out.Ray, out.Facet = h.T, int32(h.Facet)
		out.Bary = g.tree.On(h.Facet, p.Add(d.Mul(h.T))).Bary
	}
	g.shrink(&out, p, n, d, r)
	return out
}

// Clear tells whether nothing that is seen lies in front of a plane piece of
// surface: of all places at most size away from p, in the plane through p with
// normal n, none has opposite it anything nearer than within.
func (g *Gauge) Clear(p, n r3.Vector, size, within float64) bool {
	m := g.tree.Mesh()
	return !g.facing.AnyInFront(p, size+within, n, g.cos, func(f int) bool {
		// What shows its back to all of the piece is not opposite.
		return p.Sub(m.Corner(f, 0)).Dot(g.facing.Normal(f)) > -size
	})
}

// Clears marks facets of which Clear would tell the same of all their places, as
// far as asking for many at once tells it.
func (g *Gauge) Clears(within float64) []bool {
	return g.facing.Clear(within, g.cos, g.opt.Workers)
}

// shrinkSteps bounds the steps of shrinking; six are common.
const shrinkSteps = 40

// settled is the share of the radius below which a ball shrinks no more.
const settled = 1e-5

// shrink finds the ball, starting at radius r, and enters it.
func (g *Gauge) shrink(out *Distance, p, n, d r3.Vector, r float64) {
	met := !math.IsInf(out.Ray, 1)
	front := d == n
	opposite := func(f int) bool {
		// Of what is seen, only what the ball can touch: its front looks at p, or its back when inside the metal.
		a, _, _ := g.tree.Mesh().Triangle(f)
		return (p.Sub(a).Dot(g.facing.Normal(f)) > 0) == front
	}
	for range shrinkSteps {
		c := p.Add(d.Mul(r))
		h, ok := g.facing.Closest(c, r*(1-settled), n, g.cos, opposite)
		if !ok {
			break
		}
		pq := h.Point.Sub(p)
		along := d.Dot(pq)
		met = true
		out.Facet, out.Bary = int32(h.Facet), h.Bary
		if along <= 0 {
			r = 0 // opposite at the place itself: a valley
			break
		}
		next := pq.Norm2() / (2 * along)
		if next >= r*(1-settled) {
			break
		}
		r = next
	}
	if met {
		out.Ball = 2 * r
	}
}

// Facets measures at the centroids of all facets. Facets of no area see nothing.
func (g *Gauge) Facets(ctx context.Context) ([]Place, error) {
	m := g.tree.Mesh()
	out := make([]Place, len(m.Facets))
	err := bvh.InChunks(ctx, len(out), g.opt.Workers, func(lo, hi int) error {
		for f := lo; f < hi; f++ {
			if n := g.facing.Normal(f); n != (r3.Vector{}) {
				out[f] = g.At(m.Centroid(f), n)
				continue
			}
			none := Distance{Ball: math.Inf(1), Ray: math.Inf(1), Facet: -1}
			out[f] = Place{none, none}
		}
		return nil
	})
	return out, err
}
