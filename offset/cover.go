package offset

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/verify"
)

const (
	// coverFromMM is the shortfall from which a facet is covered: a little below the promise of 1 um.
	coverFromMM = 0.9e-3
	// coverRounds bounds the search: a cover shows only when proved what its neighbours lack.
	coverRounds = 12
	// coverOverlaps is over how many others a cover may lie in the first round, and
	// one more in each that follows; coverMost is how many are united at a time.
	coverOverlaps = 2
	coverMost     = 1500
	// coverReach is how far a cover reaches, in allowances.
	coverReach = 1.2
)

// cover unites the grown surface with bodies that hold the stock of the facets
// that are short of it, where moving vertices could not give it: around
// needles, in folds, where facets turned over or vanished. What is short still
// is left for the findings.
func (r *Result) cover(ctx context.Context, job Job, w *verify.Watch) error {
	covered := make([]covering, len(r.Nominal.Facets))
	body, bodies := bodiesOf(r.Nominal, r.Topo)
	metal := 0 // bodies of Grown, counted when there is more than one
	if bodies == 1 {
		body = nil
	}
	var worst float64
	var at r3.Vector
	pieces := 0
	for round := range coverRounds {
		short := w.Short()
		for _, l := range w.Lacks() {
			short[l.Foot] = max(short[l.Foot], l.By)
		}
		list := r.uncovered(short, covered, body, coverOverlaps+round, job)
		if len(list) == 0 {
			break
		}
		if round == 0 {
			f := worstOf(short)
			worst, at = short[f], facetCentre(r.Nominal, f)
		}
		if body != nil && metal == 0 {
			metal = solidBodies(r.Grown, r.Grown.Topology())
		}
		var before Result
		if body != nil {
			before = *r
		}
		n, err := r.addCovers(ctx, job, list, covered, body != nil)
		var stuck *arrange.UnresolvedError
		if errors.As(err, &stuck) {
			break // the state before is sound, and its shortfall is reported
		}
		if err != nil {
			return err
		}
		if body != nil {
			now := solidBodies(r.Grown, r.Grown.Topology())
			if now < metal {
				*r = before // stock is not worth a joint that no longer moves
				for _, f := range list {
					covered[f]--
				}
				break
			}
			metal = now
		}
		pieces += n
		if err := w.Change(ctx, r.Grown, r.tree, r.dry(), r.number); err != nil {
			return err
		}
	}
	if pieces > 0 {
		if !slices.ContainsFunc(r.settled, func(f finding.Finding) bool { return f.Code == "bodies_fused" }) {
			r.noteFused(r.Grown, at)
		}
		r.settled = append(r.settled, finding.Finding{
			Code: "covered", Severity: finding.Info, At: &at, SizeMM: worst, Count: count(covered),
			Message: fmt.Sprintf("%d facets got their stock as bodies united with the part, since moving them left up to %.1f um missing: %d facets were added",
				count(covered), worst*umPerMM, pieces),
		})
	}
	return nil
}

// covering says which cover a facet has.
type covering uint8

const (
	inFront   covering = 1 + iota // over its front
	allAround                     // the facet was short still: where a wedge or a fold is thinner than the stock, its back lies open too
)

// uncovered lists the facets to cover, or to cover more: those that are short; for one without
// a normal, which has no front, the facets around its corners. They are marked
// in covered, and those with the largest cover are left out, as are those so near to a
// masked face or another body that a cover would lie over it. body numbers the
// bodies of the facets, nil for one body; overlaps is for sparse.
func (r *Result) uncovered(short []float64, covered []covering, body []int32, overlaps int, job Job) []int32 {
	blind := make([]bool, len(r.Nominal.Vertices))
	any := false
	for f, t := range r.Nominal.Facets {
		if short[f] > coverFromMM && r.Nominal.AreaNormal(f) == (r3.Vector{}) {
			blind[t[0]], blind[t[1]], blind[t[2]], any = true, true, true, true
		}
	}
	apart := r.mostAsked() + job.Recipe.Geometry.MinGapMM.Value
	var list []int32
	for f, t := range r.Nominal.Facets {
		want := covered[f] < allAround && short[f] > coverFromMM || covered[f] == 0 && any && (blind[t[0]] || blind[t[1]] || blind[t[2]])
		if want && !r.crowded(f, body, apart, job) {
			list = append(list, int32(f))
		}
	}
	list = r.sparse(list, short, overlaps)
	for _, f := range list {
		covered[f]++
	}
	return list
}

// sparse leaves out facets whose covers would lie over the given number of others or
// more, the least short first, and what is beyond coverMost: covers that all lie
// over each other, as of a fan of slivers, take time with the square of their number,
// and a few of them do for many.
func (r *Result) sparse(list []int32, short []float64, overlaps int) []int32 {
	order := slices.Clone(list)
	slices.SortStableFunc(order, func(f, g int32) int { return cmp.Compare(short[g], short[f]) })
	type box struct{ lo, hi r3.Vector }
	var taken []box
	var out []int32
	for _, f := range order {
		if len(out) == coverMost {
			break
		}
		lo, hi := r.coverBox(int(f))
		over := 0
		for i := range taken {
			t := &taken[i]
			if lo.X < t.hi.X && t.lo.X < hi.X && lo.Y < t.hi.Y && t.lo.Y < hi.Y && lo.Z < t.hi.Z && t.lo.Z < hi.Z {
				if over++; over == overlaps {
					break
				}
			}
		}
		if over < overlaps {
			taken = append(taken, box{lo, hi})
			out = append(out, f)
		}
	}
	slices.Sort(out)
	return out
}

// coverBox returns a box around the cover of facet f.
func (r *Result) coverBox(f int) (lo, hi r3.Vector) {
	reach := coverReach * slices.Max(r.Allowance[f][:])
	p, q, s := r.Nominal.Triangle(f)
	lo = r3.Vector{X: min(p.X, q.X, s.X) - reach, Y: min(p.Y, q.Y, s.Y) - reach, Z: min(p.Z, q.Z, s.Z) - reach}
	hi = r3.Vector{X: max(p.X, q.X, s.X) + reach, Y: max(p.Y, q.Y, s.Y) + reach, Z: max(p.Z, q.Z, s.Z) + reach}
	return lo, hi
}

// crowded tells whether a cover of facet f would reach a masked facet, or come nearer than
// apart to another body, which leaves less than the smallest gap open to what that grows to.
func (r *Result) crowded(f int, body []int32, apart float64, job Job) bool {
	if r.masked == nil && body == nil {
		return false
	}
	lo, hi := r.coverBox(f)
	if body != nil {
		d := r3.Vector{X: apart, Y: apart, Z: apart}
		lo, hi = lo.Sub(d), hi.Add(d)
	}
	near := false
	r.nominalTree(job.Workers).VisitBox(lo, hi, func(g int) bool {
		near = r.masked != nil && r.masked[g] || body != nil && body[g] != body[f]
		return !near
	})
	return near
}

// addCovers replaces Grown by its union with the covers of the facets in list,
// and returns how many facets of the covers are in it; back is
// as in resolve.
func (r *Result) addCovers(ctx context.Context, job Job, list []int32, covered []covering, back bool) (pieces int, err error) {
	whole, nominalOf, behind, covers := r.withCovers(list, covered)
	fromCover := make([]bool, len(behind))
	for _, f := range covers {
		fromCover[f] = true
	}
	m, rep, err := arrange.Resolve(ctx, whole, r.arranging(job, covers))
	if err != nil {
		return 0, err
	}
	untested, number, place := changed(whole, m, rep.Facet), make([]int32, len(rep.Facet)), make([]int32, len(rep.Facet))
	for g, p := range rep.Facet {
		f := behind[p]
		untested[g] = untested[g] || fromCover[p] || r.cut && (r.untested == nil || r.untested[f])
		if place[g], number[g] = f, f; r.number != nil {
			number[g] = r.number[f]
		}
	}
	if r.Rebuilding != nil {
		r.tree = bvh.New(m, job.Workers) // facets of a rebuilt surface come in no order: covers stand anywhere among them
	} else {
		r.replaceTree(m, place, job.Workers, back)
	}
	r.Grown, r.cut, r.untested, r.number = m, true, untested, number
	r.NominalOf, r.Rebuilt = make([]int32, len(rep.Facet)), 0
	of := make([]int, len(r.Nominal.Facets))
	for g, p := range rep.Facet {
		r.NominalOf[g] = nominalOf[p]
		of[nominalOf[p]]++
		if fromCover[p] {
			pieces++
		}
	}
	for _, n := range of {
		if n > 1 {
			r.Rebuilt += n
		}
	}
	return pieces, nil
}

// withCovers returns Grown with the covers of the facets in list, which is
// ascending, each put behind the facets of Grown that belong to the same nominal
// facet: so the file's order and the runs of its solids stay. Both share vertices. behind is the facet
// of Grown that each facet is or, of the covers, follows.
func (r *Result) withCovers(list []int32, covered []covering) (m *mesh.Mesh, nominalOf, behind, covers []int32) {
	g := r.Grown
	room := len(g.Facets) + 64*len(list)
	m = &mesh.Mesh{Vertices: g.Vertices, Facets: make([][3]int32, 0, room), Source: make([]int32, 0, room)}
	nominalOf, behind = make([]int32, 0, room), make([]int32, 0, room)
	add := func(t [3]int32, source, nominal int32, after int) {
		m.Facets, m.Source = append(m.Facets, t), append(m.Source, source)
		nominalOf, behind = append(nominalOf, nominal), append(behind, int32(max(after, 0)))
	}
	next := 0
	coversTo := func(nominal int32, after int) {
		for ; next < len(list) && list[next] < nominal; next++ {
			f, a := list[next], r.Allowance[list[next]]
			c := grow.Cover(r.Nominal, int(f), max(a[0], a[1], a[2]), covered[f] == allAround)
			if c == nil {
				continue
			}
			base := int32(len(m.Vertices))
			m.Vertices = append(m.Vertices, c.Vertices...)
			for _, t := range c.Facets {
				covers = append(covers, int32(len(m.Facets)))
				add([3]int32{base + t[0], base + t[1], base + t[2]}, mesh.None, f, after)
			}
		}
	}
	for f, t := range g.Facets {
		n := int32(r.nominalOf(f))
		coversTo(n, f-1)
		add(t, int32(g.SourceOf(f)), n, f)
	}
	coversTo(math.MaxInt32, len(g.Facets)-1)
	m.CarryFile(r.Nominal, nominalOf)
	return m, nominalOf, behind, covers
}

func worstOf(short []float64) int {
	worst := 0
	for f, s := range short {
		if s > short[worst] {
			worst = f
		}
	}
	return worst
}

func count(covered []covering) int {
	n := 0
	for _, c := range covered {
		if c > 0 {
			n++
		}
	}
	return n
}
