package arrange

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Resolve returns the closed, manifold surface of the region of winding number
// 1 or more enclosed by m, free of crossings and contacts on single-precision
// coordinates. m must be closed and wound consistently; it is not changed.
// Facets keep their order; the pieces of a cut facet follow each other in its place.
//
// Errors: *NotClosedError, ErrNothingLeft, *UnresolvedError, or that of ctx.
func Resolve(ctx context.Context, m *mesh.Mesh, opt Options) (*mesh.Mesh, *Report, error) {
	if opt.Suspects != nil {
		if out, rep, err := resolveNear(ctx, m, opt, nearShare); !errors.Is(err, errFar) {
			return out, rep, err
		}
	}
	s, err := fromMesh(m)
	if err != nil {
		return nil, nil, err
	}
	return resolveSurface(ctx, m, s, opt.withDefaults(s.largest(), len(m.Facets)))
}

// resolveSurface is Resolve of m, of which s is the copy.
func resolveSurface(ctx context.Context, m *mesh.Mesh, s *surface, opt Options) (*mesh.Mesh, *Report, error) {
	r := &resolver{s: s, opt: opt, report: &Report{}}
	r.work.left.Store(pointSteps * int64(opt.MaxPoints))
	if err := s.link(); err != nil {
		return nil, nil, err
	}
	sh := s.shells()
	r.report.ShellsIn = sh.n
	r.cavity, r.volume = s.cavityFacets(sh, len(m.Facets))
	if r.volume <= 0 {
		return nil, nil, ErrNothingLeft
	}
	r.report.Duplicates = s.dropDuplicates(sh)
	if err := r.run(ctx, m); err != nil {
		return nil, nil, err
	}
	out := r.finish(m)
	return out, r.report, nil
}

// resolver is the state of one call.
type resolver struct {
	s      *surface
	opt    Options
	report *Report
	work   work
	cavity []bool  // per facet of the input: it bounds a hollow of the input
	volume float64 // six times the signed volume of the input
}

// fromMesh copies a mesh onto the grid, without facets that name a vertex twice.
func fromMesh(m *mesh.Mesh) (*surface, error) {
	n := len(m.Vertices)
	s := &surface{at: make([]r3.Vector, n), vertex: make([]int32, n), moved: make([]bool, n), name: make([]int32, n), named: int32(n)}
	for i, v := range m.Vertices {
		if big := max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)); !(big < maxCoordMM) {
			return nil, fmt.Errorf("vertex %d lies at (%g, %g, %g) mm, beyond the %d mm this can handle", i, v.X, v.Y, v.Z, maxCoordMM)
		}
		s.at[i], s.vertex[i], s.name[i] = snap(v), int32(i), int32(i)
	}
	for f, t := range m.Facets {
		if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
			s.facets = append(s.facets, t)
			s.facet = append(s.facet, int32(f))
		}
	}
	return s, nil
}

// cavityFacets marks the facets of shells of negative volume, and returns six
// times the volume of all shells.
func (s *surface) cavityFacets(sh *shells, n int) (in []bool, sum float64) {
	vol := s.volumes(sh)
	in = make([]bool, n)
	for f, c := range sh.of {
		in[s.facet[f]] = vol[c] < 0
	}
	for c, n := range sh.far {
		s.rest.cavity[c] = vol[n] < 0
	}
	for _, v := range vol {
		sum += v
	}
	return in, sum
}

// run cuts, rounds and cleans until no facets meet.
func (r *resolver) run(ctx context.Context, m *mesh.Mesh) error {
	for round := 0; ; round++ {
		t := newTree(r.s)
		cs, err := r.meetings(ctx, t, m, round)
		if err == nil {
			err = r.s.inside(cs)
		}
		if err != nil {
			return err
		}
		if round == 0 {
			r.note(cs)
		}
		if len(cs) == 0 && (round > 0 || r.report.ShellsIn < 2 && r.report.Duplicates == 0) {
			return r.checkSomeLeft()
		}
		if round >= r.opt.MaxRounds {
			return r.unresolved(cs, false)
		}
		if err := r.cut(ctx, t, cs, round); err != nil {
			return err
		}
		r.report.Rounds = round + 1
		if err := r.s.clean(ctx, r.opt.Workers, r.opt.MergeMM); err != nil {
			return err
		}
		r.specks()
	}
}

// maxNudges bounds the nudges before a cut. Each leaves special position with
// a chance that falls by orders of magnitude.
const maxNudges = 24

// openFrom is the round from which facets that cross are nudged before they are
// cut. Rounding leaves few, most of which a plain cut takes away; nudging opens
// hundreds of new ones among slivers.
const openFrom = 5

// cut brings the facets that meet into general position and replaces the
// surface by that of the region of positive winding number.
func (r *resolver) cut(ctx context.Context, t *tree, cs []contact, round int) error {
	if round >= openFrom {
		// What is left is nearly in special position: open it up.
		var err error
		if cs, err = r.nudge(ctx, t, cs, r.s.verticesOf(cs, func(contact) bool { return true }), r.step(round), 1000+round); err != nil {
			return err
		}
	}
	for n := 0; n < maxNudges; n++ {
		special := r.s.verticesOf(cs, func(c contact) bool { return c.kind == touching })
		if len(special) == 0 {
			out, bad, err := r.arrange(ctx, t, cs)
			if errors.Is(err, errTangled) {
				return r.unresolved(cs, true)
			}
			if err != nil {
				return err
			}
			if len(bad) == 0 {
				r.s = out
				return nil
			}
			special = bad
		}
		var err error
		if cs, err = r.nudge(ctx, t, cs, special, r.step(round)*float64(1+n/4), 64*round+n); err != nil {
			return err
		}
	}
	return r.unresolved(cs, false)
}

// nudge moves vertices and returns the contacts after that.
func (r *resolver) nudge(ctx context.Context, t *tree, cs []contact, vs []int32, step float64, round int) ([]contact, error) {
	if err := r.s.free(vs); err != nil {
		return nil, err
	}
	cs, err := t.renew(ctx, r.opt.Workers, cs, r.s.nudge(vs, step, round))
	if err != nil {
		return nil, err
	}
	return cs, r.s.inside(cs)
}

func (r *resolver) step(round int) float64 { return r.opt.NudgeMM * float64(1+round/2) }

// arrange makes the cut surface. bad lists vertices of facets in special position; then the surface is nil.
func (r *resolver) arrange(ctx context.Context, t *tree, cs []contact) (out *surface, bad []int32, err error) {
	c := newCutting(r.s, t, r.opt.Workers, &r.work, cs)
	if err := c.prepare(ctx, cs); err != nil {
		return nil, nil, err
	}
	if len(c.bad) > 0 {
		return nil, c.badVertices(), nil
	}
	lists, err := c.divideAll(ctx)
	if err != nil {
		return nil, nil, err
	}
	if len(c.bad) > 0 {
		return nil, c.badVertices(), nil
	}
	var subs []subFacet
	for _, l := range lists {
		subs = append(subs, l...)
	}
	l := c.patches(subs)
	if len(c.bad) > 0 {
		return nil, c.badVertices(), nil
	}
	front, err := c.winds(l, subs)
	if err != nil {
		return nil, nil, err
	}
	if len(c.bad) > 0 {
		return nil, c.badVertices(), nil
	}
	out, err = c.build(subs, front)
	return out, nil, err
}

// badVertices returns the vertices of the flagged facets, ascending.
func (c *cutting) badVertices() []int32 {
	var cs []contact
	for f := range c.bad {
		cs = append(cs, contact{a: f, b: f})
	}
	return c.s.verticesOf(cs, func(contact) bool { return true })
}

// renew returns the contacts after the facets fs changed.
func (t *tree) renew(ctx context.Context, workers int, cs []contact, fs []int32) ([]contact, error) {
	changed := make(map[int32]bool, len(fs))
	for _, f := range fs {
		changed[f] = true
		t.widen(f)
	}
	fresh, err := t.contactsOf(ctx, workers, fs)
	if err != nil {
		return nil, err
	}
	for _, c := range cs {
		if !changed[c.a] && !changed[c.b] {
			fresh = append(fresh, c)
		}
	}
	return sortContacts(fresh), nil
}

func (r *resolver) note(cs []contact) {
	for _, c := range cs {
		if c.kind == crossing {
			r.report.Crossings++
		} else {
			r.report.Touches++
		}
		if len(r.report.Places) < 100 {
			r.report.Places = append(r.report.Places, r.s.place(c))
		}
	}
}

// place returns a point near a contact: the middle of its smaller facet.
func (s *surface) place(c contact) r3.Vector {
	f := c.a
	if s.areaNormal(c.b).Norm2() < s.areaNormal(c.a).Norm2() {
		f = c.b
	}
	a, b, d := s.corners(f)
	return a.Add(b).Add(d).Mul(1. / 3)
}

func (r *resolver) unresolved(cs []contact, tangled bool) error {
	e := &UnresolvedError{Rounds: r.report.Rounds, Pairs: len(cs), Tangled: tangled}
	for _, c := range cs {
		if len(e.At) < 100 {
			e.At = append(e.At, r.s.place(c))
		}
	}
	return e
}

func (r *resolver) checkSomeLeft() error {
	for _, v := range r.s.volumes(r.s.shells()) {
		if v > 0 {
			return nil
		}
	}
	return ErrNothingLeft
}
