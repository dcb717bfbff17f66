package offset

import (
	"context"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/offset/verify"
)

const (
	// topUpTolMM is the shortfall below which no stock is added: half of the promise of 1 um.
	topUpTolMM = 5e-4
	// topUpRounds bounds the search; what is still short then is reported.
	topUpRounds = 5
	// topUpGain is the share of the missing stock that a round must bring down to
	// be worth the next one.
	topUpGain = 0.7
	// topUpLean is the least cosine between a vertex's move and the normal of a
	// facet it has to lift: beyond it the vertex would run along the facet.
	topUpLean = 0.25
)

// topUp adds stock where the proof finds too little, by lifting the vertices
// around the place along their own direction, until nothing is short or lifting
// stops to help. Where a lift made things worse, as at points too sharp for any,
// or made facets cross, it is taken back. The best state is proved again as a
// whole. moved are the vertices of Grown before it was rounded and its crossings
// resolved.
func (r *Result) topUp(ctx context.Context, job Job, moved []r3.Vector) error {
	short := shortfalls(r.Nominal, r.Proof)
	near, marked := around(r.Nominal, short)
	least := shortness(r.Nominal, short)
	best, now := *r, *r
	frozen := make([]bool, len(moved)) // and whatever is not near: its facets are not marked
	for v := range frozen {
		frozen[v] = !near[v]
	}
	for round := 0; round < topUpRounds && slices.Max(short) > topUpTolMM; round++ {
		next := now
		lifted := lift(r.Nominal, moved, short, frozen)
		if err := next.tryLift(ctx, job, moved, lifted, frozen, marked); err != nil {
			return err
		}
		after, err := verify.Shortfalls(ctx, r.Nominal, next.Grown, r.Allowance, marked, verify.Options{Workers: job.Workers})
		if err != nil {
			return err
		}
		moved = takeBack(r.Nominal, moved, lifted, frozen, short, after)
		now, short = next, after
		was := least
		if s := shortness(r.Nominal, after); s < least {
			best, least = next, s
		}
		if round > 0 && least > topUpGain*was {
			break
		}
	}
	if best.Grown == r.Grown {
		return nil
	}
	*r = best
	return r.prove(ctx, job)
}

// shortfalls are the worst shortfalls of the facets and their corners in a
// proof, mm, 0 for none.
func shortfalls(m *mesh.Mesh, p *verify.Proof) []float64 {
	out := make([]float64, len(p.FacetDeviation))
	for f, d := range p.FacetDeviation {
		t := m.Facets[f]
		out[f] = max(0, -d, -p.VertexDeviation[t[0]], -p.VertexDeviation[t[1]], -p.VertexDeviation[t[2]])
	}
	return out
}

// around marks the vertices of the short facets, and every facet that has one.
func around(nominal *mesh.Mesh, short []float64) (vertex, facet []bool) {
	vertex = make([]bool, len(nominal.Vertices))
	for f, t := range nominal.Facets {
		if short[f] > topUpTolMM {
			vertex[t[0]], vertex[t[1]], vertex[t[2]] = true, true, true
		}
	}
	facet = make([]bool, len(short))
	for f, t := range nominal.Facets {
		facet[f] = vertex[t[0]] || vertex[t[1]] || vertex[t[2]]
	}
	return vertex, facet
}

// shortness is by what one state is better than another: the volume that is
// missing, with depth counted once more so that deep places weigh (mm4).
func shortness(m *mesh.Mesh, short []float64) float64 {
	var s float64
	for f, d := range short {
		if d > topUpTolMM {
			s += d * d * m.FacetArea(f)
		}
	}
	return s
}

// takeBack returns the lifted vertices, those around facets that got worse put
// back and frozen.
func takeBack(nominal *mesh.Mesh, moved, lifted []r3.Vector, frozen []bool, before, after []float64) []r3.Vector {
	for f, t := range nominal.Facets {
		if after[f] > before[f]+topUpTolMM {
			for _, v := range t {
				frozen[v], lifted[v] = true, moved[v]
			}
		}
	}
	return lifted
}

// uncrossTries bounds the search for lifts that cross nothing; cutting follows.
const uncrossTries = 4

// tryLift takes the lifted vertices for the grown surface. Where nothing crossed
// before, lifts that would cross are taken back and frozen: a little stock is not
// worth cut facets. Facets that are not marked have not moved.
func (r *Result) tryLift(ctx context.Context, job Job, moved, lifted []r3.Vector, frozen, marked []bool) error {
	if r.NominalOf != nil {
		return r.settle(ctx, job, lifted)
	}
	for range uncrossTries {
		r.take(lifted)
		c, err := bvh.New(r.Grown, job.Workers).SelfCrossingsNear(ctx, marked, bvh.CrossingOptions{Workers: job.Workers})
		if err != nil || c.Total == 0 {
			return err
		}
		for _, p := range c.Pairs {
			for _, f := range p {
				for _, v := range r.Nominal.Facets[f] {
					frozen[v], lifted[v] = true, moved[v]
				}
			}
		}
	}
	return r.settle(ctx, job, lifted)
}

// lift returns moved with every vertex around a short facet moved on, so far
// that the facet gains what it lacks; frozen ones stay. short is the shortfall of
// every facet, mm.
func lift(nominal *mesh.Mesh, moved []r3.Vector, short []float64, frozen []bool) []r3.Vector {
	out := append([]r3.Vector(nil), moved...)
	normal := make([]r3.Vector, len(moved)) // area-weighted, of the short vertices only
	_, near := around(nominal, short)
	for f, t := range nominal.Facets {
		if near[f] {
			n := nominal.AreaNormal(f)
			for _, v := range t {
				normal[v] = normal[v].Add(n)
			}
		}
	}
	// Along the vertex normal a facet gains the cosine's share of the move.
	share := make([]float64, len(moved))
	for f, t := range nominal.Facets {
		if short[f] <= topUpTolMM {
			continue
		}
		n := nominal.FacetNormal(f)
		for _, v := range t {
			share[v] = max(share[v], short[f]/max(n.Dot(normal[v].Normalize()), topUpLean))
		}
	}
	for v, s := range share {
		if s > 0 && !frozen[v] {
			out[v] = out[v].Add(normal[v].Normalize().Mul(s))
		}
	}
	return out
}
