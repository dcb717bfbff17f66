package bvh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

// NoHint is the hint that tells nothing.
const NoHint = -1

// Hit is the place of the surface nearest to a point.
type Hit struct {
	Facet   int // number in the mesh, or -1 when there is none; of several at equal distance the lowest
	Point   r3.Vector
	Dist    float64    // mm, never negative
	Bary    [3]float64 // weights of the facet's corners
	Feature Feature
	K       int // number of the edge or the corner, 0 for a face
}

// Closest returns the place of the surface nearest to p. The hint is a facet
// believed to be near, such as that of the last answer, or NoHint: it makes the
// search faster and does not change its answer. A mesh without facets, or a
// point that is no number, gives Facet -1 and infinite distance.
func (t *Tree) Closest(p r3.Vector, hint int) Hit {
	h, _ := t.ClosestWithin(p, math.Inf(1), hint)
	return h
}

// ClosestWithin is Closest, and says false when nothing lies within the distance limit.
func (t *Tree) ClosestWithin(p r3.Vector, limit float64, hint int) (Hit, bool) {
	f := t.closest(p, float64(limit*limit), hint)
	if f < 0 {
		return Hit{Facet: -1, Dist: math.Inf(1)}, false
	}
	return t.On(f, p), true
}

// On returns the place of facet f nearest to p.
func (t *Tree) On(f int, p r3.Vector) Hit {
	a, b, c := t.m.Triangle(f)
	h := Hit{Facet: f}
	h.Point, h.Bary, h.Feature, h.K = nearest(p, a, b, c)
	h.Dist = h.Point.Distance(p)
	return h
}

// todo is a child still to be visited and the squared distance to its box.
type todo struct {
	child int32
	d     float32
}

// stackSize holds one entry a level: the depth is bounded by deepest + 32.
const stackSize = 96

// slackShare makes a limit in single precision safe against the rounding of a box distance.
const slackShare = 1 + 0x1p-18

// closest returns the facet nearest to p within the squared distance best, or -1.
func (t *Tree) closest(p r3.Vector, best float64, hint int) int {
	facet := -1
	if s := p.X + p.Y + p.Z; s-s != 0 {
		return facet
	}
	if hint >= 0 && hint < len(t.m.Facets) {
		a, b, c := t.m.Triangle(hint)
		if d := distance2(&p, &a, &b, &c, best); d <= best {
			best, facet = d, hint
		}
	}
	if nodes := t.wide.nodes.Load(); nodes != nil {
		return t.closestWide(*nodes, p, best, facet)
	}
	q := t.local(p)
	limit := float32(best) * slackShare
	var stack [stackSize]todo
	n := 0
	at := int32(0)
	for {
		for at >= 0 {
			nd := &t.nodes[at]
			b0, b1 := &nd.box[0], &nd.box[1] // boxDistance2 without its calls
			d0 := gap2(q[0], b0[0], b0[3]) + gap2(q[1], b0[1], b0[4]) + gap2(q[2], b0[2], b0[5])
			d1 := gap2(q[0], b1[0], b1[3]) + gap2(q[1], b1[1], b1[4]) + gap2(q[2], b1[2], b1[5])
			near, far := nd.child[0], nd.child[1]
			if d1 < d0 {
				d0, d1, near, far = d1, d0, far, near
			}
			if d1 <= limit {
				stack[n] = todo{far, d1}
				n++
			}
			if !(d0 <= limit) {
				goto next
			}
			at = near
		}
		for i, end := leafRange(at); i < end; i++ {
			w := &t.tri[i]
			d := distance2(&p, &t.v[w[0]], &t.v[w[1]], &t.v[w[2]], best)
			if d < best {
				best, facet = d, int(t.id[i])
				limit = float32(best) * slackShare
			} else if d == best && (facet < 0 || int(t.id[i]) < facet) {
				facet = int(t.id[i])
			}
		}
	next:
		for {
			if n == 0 {
				return facet
			}
			n--
			if stack[n].d <= limit {
				at = stack[n].child
				break
			}
		}
	}
}

// boxDistance2 is the squared distance from q to the box, 0 inside.
func boxDistance2(q *[3]float32, b *box) float32 {
	return gap2(q[0], b[0], b[3]) + gap2(q[1], b[1], b[4]) + gap2(q[2], b[2], b[5])
}

// gap2 is the squared distance along an axis to the interval of that centre and
// half length. The signs are handled as bits to spare the branches.
func gap2(q, centre, half float32) float32 {
	x := math.Float32bits(math.Float32frombits(math.Float32bits(q-centre)&^(1<<31)) - half)
	y := math.Float32frombits(x &^ uint32(int32(x)>>31))
	return float32(y * y)
}

// ClosestAll finds the hit of every point, with up to the given number of
// goroutines (0: GOMAXPROCS). Points in a coherent order are answered
// faster. The hits go to out, which must be as long as points.
func (t *Tree) ClosestAll(ctx context.Context, points []r3.Vector, out []Hit, workers int) error {
	return inChunks(ctx, len(points), 2048, workers, func(lo, hi int) error {
		hint := NoHint
		for i := lo; i < hi; i++ {
			out[i] = t.Closest(points[i], hint)
			hint = out[i].Facet
		}
		return nil
	})
}
