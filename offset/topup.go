package offset

import (
	"context"
	"errors"
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
	topUpRounds = 8
	// topUpGain is the share of the missing stock that a round must bring down to
	// be worth the next one; topUpStall rounds that do not end the search.
	topUpGain  = 0.7
	topUpStall = 2
	// topUpSlip is by how much a facet may get worse once.
	topUpSlip = 5e-3
	// recutRounds bounds the rounds where facets were cut, which each round
	// repeats; covers give the stock in the end.
	recutRounds = 1
	// topUpLean is the least cosine between a vertex's move and the normal of a
	// facet it has to lift: beyond it the vertex would run along the facet.
	topUpLean = 0.25
)

// proofOptions are the options of a proof of Grown, whose tree is r.tree.
func (r *Result) proofOptions(job Job) verify.Options {
	return verify.Options{Workers: job.Workers, Samples: job.Samples, Skins: r.Sorting.Skin, NominalTree: r.nominalTree(job.Workers), GrownTree: r.tree, Numbers: r.number, Dry: r.dry()}
}

// proveAndTopUp proves the grown surface and adds stock where the proof finds
// too little, by lifting the vertices around the place, until nothing is short
// or lifting stops to help. Where a lift made things worse, as at points too
// sharp for any, or made facets cross, it is taken back; vertices of masked faces
// stay. The proof kept is that of the best state. moved are the vertices of Grown
// before it was rounded and its crossings resolved; they are taken over.
func (r *Result) proveAndTopUp(ctx context.Context, job Job, moved []r3.Vector) error {
	w, err := verify.Start(ctx, r.Nominal, r.Grown, r.Allowance, r.proofOptions(job))
	if err != nil {
		return err
	}
	best, now := *r, *r
	l := liftsOf(moved)
	short := r.lacking(w, job.Workers)
	deepest, bare, least := short.deepest, short.bare, short.missing
	frozen := r.heldVertices(len(moved))
	worse := make([]bool, len(short.facet))
	most := r.mostAsked()
	for round, stalled := 0, 0; round < topUpRounds && stalled < topUpStall && short.deepest > topUpTolMM; round++ {
		if now.cut && round >= recutRounds {
			break
		}
		next := now
		l.begin()
		r.lift(l, &short, frozen, job.Workers)
		now.push(w, l, short.lacks, frozen)
		l.rein(most)
		var stuck *CrossingError
		if err := next.tryLift(ctx, job, l, frozen); errors.As(err, &stuck) {
			break // the state before is sound
		} else if err != nil {
			return err
		}
		if next.cut && !now.cut {
			if metal := r.bodies(); metal > 1 && solidBodies(next.Grown, next.Grown.Topology()) < metal {
				break // stock is not worth bodies that are joined
			}
		}
		if err := w.Change(ctx, next.Grown, next.tree, next.dry(), next.number); err != nil {
			return err
		}
		after := next.lacking(w, job.Workers)
		r.takeBack(l, frozen, worse, short.facet, &after)
		now, short = next, after
		was := least
		if after.missing < least && after.deepest < deepest+topUpTolMM && after.bare < bare+topUpTolMM {
			best, least = next, after.missing
		}
		if stalled++; least <= topUpGain*was {
			stalled = 0
		}
	}
	if best.tree.Mesh() != best.Grown { // it went along with states tried since
		best.tree.Follow(best.Grown, job.Workers)
	}
	if best.Grown != now.Grown {
		if err := w.Change(ctx, best.Grown, best.tree, best.dry(), best.number); err != nil {
			return err
		}
	}
	*r = best
	r.dropShape()
	if err := r.cover(ctx, job, w); err != nil {
		return err
	}
	r.Proof = w.Proof()
	return nil
}

// nominalOf returns the nominal facet that facet f of Grown is, or is a piece of.
func (r *Result) nominalOf(f int) int {
	if r.NominalOf == nil {
		return f
	}
	return int(r.NominalOf[f])
}

// takeBack puts the vertices around facets that got much worse, or worse for the
// second time, back and freezes them. What got a little worse for the first time
// may be for a lift beside it, which the next round makes up for.
func (r *Result) takeBack(l *lifts, frozen, worse []bool, before []float64, after *lacking) {
	for _, f := range after.short {
		if after.facet[f] <= before[f]+topUpTolMM {
			continue
		}
		for _, v := range r.corners()[f] {
			if worse[f] || after.facet[f] > before[f]+topUpSlip {
				frozen[v] = true
				l.back(v)
			}
		}
		worse[f] = true
	}
}

const (
	// uncrossTries bounds the search for lifts that cross nothing; cutting follows.
	uncrossTries = 6
	// carryTries is how many of them let facets that would cross move along.
	carryTries = 3
)

// tryLift takes the lifted vertices for the grown surface. Where nothing crossed
// before, facets that would cross are moved along as they lie, and when that does
// not help, their lifts are taken back and frozen: a little stock is not worth cut facets.
func (r *Result) tryLift(ctx context.Context, job Job, l *lifts, frozen []bool) error {
	if r.cut {
		return r.settle(ctx, job, l.at, false) // on a tree of its own
	}
	before := r.Grown
	for try := range uncrossTries {
		r.take(l.at, job.Workers)
		c, err := r.tree.SelfCrossingsNear(ctx, mesh.Differ(before, r.Grown, job.Workers), bvh.CrossingOptions{Workers: job.Workers})
		if err != nil || c.Total == 0 {
			return err
		}
		if try < carryTries {
			l.carry(r.Grown, c.Pairs, frozen)
			continue
		}
		for _, p := range c.Pairs {
			for _, f := range p {
				for _, v := range r.Grown.Facets[f] {
					frozen[v] = true
					l.back(v)
				}
			}
		}
	}
	return r.settle(ctx, job, l.at, true)
}

// lift moves every vertex around a short facet on, so far that the facet gains
// what it lacks; frozen ones stay.
func (r *Result) lift(l *lifts, short *lacking, frozen []bool, workers int) {
	nominal, corners := r.Nominal, r.corners()
	// Of the vertices around short facets, each with a number above zero.
	number := make([]int32, len(l.at))
	vertex := []int32{mesh.None}
	normal := []r3.Vector{{}} // area-weighted
	share := []float64{0}     // by how much a vertex moves along it
	for _, f := range around(nominal, r.nominalTree(workers).Incidence(), short.short) {
		n := nominal.AreaNormal(int(f))
		for _, v := range corners[f] {
			if number[v] == 0 {
				number[v] = int32(len(normal))
				vertex, normal, share = append(vertex, v), append(normal, r3.Vector{}), append(share, 0)
			}
			normal[number[v]] = normal[number[v]].Add(n)
		}
	}
	// Along the vertex normal a facet gains the cosine's share of the move.
	for _, f := range short.short {
		n := nominal.FacetNormal(int(f))
		for _, v := range corners[f] {
			i := number[v]
			share[i] = max(share[i], short.facet[f]/max(n.Dot(normal[i].Normalize()), topUpLean))
		}
	}
	for i, v := range vertex {
		if s := share[i]; s > 0 && !frozen[v] {
			l.to(v, l.at[v].Add(normal[i].Normalize().Mul(s)))
		}
	}
}

// around returns the facets that have a vertex of one of those given, ascending.
func around(m *mesh.Mesh, in *mesh.Incidence, facets []int32) []int32 {
	var near []int32
	for _, f := range facets {
		for _, v := range m.Facets[f] {
			for _, c := range in.Of(v) {
				near = append(near, c/3)
			}
		}
	}
	slices.Sort(near)
	return slices.Compact(near)
}

// push moves the lifted vertices on where the grown surface stands too near to
// the nominal one: a vertex to where it is clear of it, the corners of a facet
// straight away from it.
func (r *Result) push(w *verify.Watch, l *lifts, lacks []verify.Lack, frozen []bool) {
	for _, k := range lacks {
		if k.By <= topUpTolMM {
			continue
		}
		t := r.corners()[r.nominalOf(k.Facet)]
		if !r.cut {
			t = r.Grown.Facets[k.Facet]
			if k.K >= 0 {
				if v := t[k.K]; !frozen[v] {
					l.to(v, w.Clear(l.at[v]))
				}
				continue
			}
		}
		for _, v := range t {
			if rest := k.By - l.by(v).Dot(k.Out); rest > 0 && !frozen[v] {
				l.to(v, l.at[v].Add(k.Out.Mul(rest)))
			}
		}
	}
}
