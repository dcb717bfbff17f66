package offset

import (
	"context"

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
// around the place along their own direction, until the proof is content or
// lifting stops to help. Where a lift made things worse, as at points too sharp
// for any, it is taken back. The best state stays. moved are the vertices of
// Grown before it was rounded and its crossings resolved.
func (r *Result) topUp(ctx context.Context, job Job, moved []r3.Vector) error {
	best, now := *r, *r
	frozen := make([]bool, len(moved))
	for round := 0; round < topUpRounds && worstShort(now.Proof) > topUpTolMM; round++ {
		next := now
		lifted := lift(r.Nominal, moved, now.Proof.FacetDeviation, frozen)
		if now.NominalOf == nil {
			if err := r.uncross(ctx, job, moved, lifted, frozen); err != nil {
				return err
			}
		}
		if err := next.settle(ctx, job, lifted); err != nil {
			return err
		}
		if err := next.prove(ctx, job); err != nil {
			return err
		}
		moved = takeBack(r.Nominal, moved, lifted, frozen, now.Proof.FacetDeviation, next.Proof.FacetDeviation)
		before := best.shortness()
		if next.shortness() < before {
			best = next
		}
		if round > 0 && best.shortness() > topUpGain*before {
			break
		}
		now = next
	}
	*r = best
	return nil
}

// uncrossTries bounds the search for lifts that cross nothing; cutting follows.
const uncrossTries = 4

// uncross takes back, and freezes, the lifts of facets that would cross others
// where nothing crossed before: a little stock is not worth cut facets.
func (r *Result) uncross(ctx context.Context, job Job, moved, lifted []r3.Vector, frozen []bool) error {
	for range uncrossTries {
		m := r.Nominal.WithVertices(append([]r3.Vector(nil), lifted...))
		m.RoundToFloat32()
		c, err := bvh.New(m, job.Workers).SelfCrossings(ctx, bvh.CrossingOptions{Workers: job.Workers})
		if err != nil || c.Total == 0 {
			return err
		}
		for _, p := range c.Pairs {
			for _, f := range p {
				for _, v := range m.Facets[f] {
					frozen[v], lifted[v] = true, moved[v]
				}
			}
		}
	}
	return nil
}

func worstShort(p *verify.Proof) float64 { return p.All.Shortfall.Max.Value }

// shortness is by what one state is better than another: the volume that is
// missing, with depth counted once more so that deep places weigh (mm4).
func (r *Result) shortness() float64 {
	var s float64
	for f, d := range r.Proof.FacetDeviation {
		if d < -topUpTolMM {
			s += d * d * r.Nominal.FacetArea(f)
		}
	}
	return s
}

// takeBack returns the lifted vertices, those around facets that got worse put
// back and frozen.
func takeBack(nominal *mesh.Mesh, moved, lifted []r3.Vector, frozen []bool, before, after []float64) []r3.Vector {
	for f, t := range nominal.Facets {
		if after[f] < before[f]-topUpTolMM && after[f] < -topUpTolMM {
			for _, v := range t {
				frozen[v], lifted[v] = true, moved[v]
			}
		}
	}
	return lifted
}

// lift returns moved with every vertex around a short facet moved on, so far
// that the facet gains what it lacks; frozen ones stay. dev is the deviation of
// every facet, mm.
func lift(nominal *mesh.Mesh, moved []r3.Vector, dev []float64, frozen []bool) []r3.Vector {
	out := append([]r3.Vector(nil), moved...)
	normal := make([]r3.Vector, len(moved)) // area-weighted, of the short vertices only
	short := make([]bool, len(moved))
	for f, t := range nominal.Facets {
		if dev[f] < -topUpTolMM {
			short[t[0]], short[t[1]], short[t[2]] = true, true, true
		}
	}
	for f, t := range nominal.Facets {
		if short[t[0]] || short[t[1]] || short[t[2]] {
			n := nominal.AreaNormal(f)
			for _, v := range t {
				normal[v] = normal[v].Add(n)
			}
		}
	}
	// Along the vertex normal a facet gains the cosine's share of the move.
	share := make([]float64, len(moved))
	for f, t := range nominal.Facets {
		if dev[f] >= -topUpTolMM {
			continue
		}
		n := nominal.FacetNormal(f)
		for _, v := range t {
			share[v] = max(share[v], -dev[f]/max(n.Dot(normal[v].Normalize()), topUpLean))
		}
	}
	for v, s := range share {
		if s > 0 && !frozen[v] {
			out[v] = out[v].Add(normal[v].Normalize().Mul(s))
		}
	}
	return out
}
