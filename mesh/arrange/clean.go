package arrange

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// cleaner takes out what a cut leaves: edges shorter than merge, facets lower
// than it, and contacts that rounding made. It touches only facets with a
// corner made by a cut, and takes back every step that would make facets meet.
type cleaner struct {
	editor
	merge float64
}

// fresh tells whether a vertex was made by a cut.
func (s *surface) fresh(v int32) bool { return s.vertex[v] == mesh.None }

// zone returns the facets with a fresh corner.
func (s *surface) zone() []int32 {
	var fs []int32
	for f, t := range s.facets {
		if s.fresh(t[0]) || s.fresh(t[1]) || s.fresh(t[2]) {
			fs = append(fs, int32(f))
		}
	}
	return fs
}

// changed returns the facets with a fresh or moved corner.
func (s *surface) changed() []int32 {
	var fs []int32
	for f, t := range s.facets {
		for _, v := range t {
			if s.fresh(v) || s.moved[v] {
				fs = append(fs, int32(f))
				break
			}
		}
	}
	return fs
}

// clean works on a linked surface and leaves a linked one.
func (s *surface) clean(ctx context.Context, workers int, merge float64) error {
	zone := s.zone()
	if len(zone) == 0 {
		return nil
	}
	c := &cleaner{editor: editor{s: s, t: newTree(s), bad: map[int32]bool{}}, merge: merge}
	if err := c.look(ctx, workers, zone); err != nil {
		return err
	}
	c.part()
	c.collapseShort(zone, merge)
	c.flipLow(zone)
	return s.compact()
}

// look finds the contacts of the facets.
func (c *cleaner) look(ctx context.Context, workers int, fs []int32) error {
	cs, err := c.t.contactsOf(ctx, workers, fs)
	if err != nil {
		return err
	}
	c.cs = cs
	clear(c.bad)
	for _, x := range cs {
		c.bad[x.a], c.bad[x.b] = true, true
	}
	return nil
}

// collapseShort collapses edges below limit with a fresh end, shortest first.
func (c *cleaner) collapseShort(zone []int32, limit float64) {
	type short struct {
		h   int32
		len float64
	}
	for range 4 {
		var list []short
		for _, f := range zone {
			if !c.s.alive(f) {
				continue
			}
			for k := range int32(3) {
				h := 3*f + k
				if l := c.length(h); l < limit && c.s.fresh(c.s.origin(h)) {
					list = append(list, short{h, l})
				}
			}
		}
		slices.SortFunc(list, func(a, b short) int { return cmp.Or(cmp.Compare(a.len, b.len), cmp.Compare(a.h, b.h)) })
		done := 0
		for _, x := range list {
			if c.s.alive(x.h/3) && c.s.fresh(c.s.origin(x.h)) && c.length(x.h) < limit && c.tryCollapse(x.h) {
				done++
			}
		}
		if done == 0 {
			return
		}
	}
}

func (c *cleaner) length(h int32) float64 {
	return c.s.at[c.s.target(h)].Sub(c.s.at[c.s.origin(h)]).Norm()
}

// lowest returns the least height among facets that live.
func (c *cleaner) lowest(fs []int32) float64 {
	low := math.Inf(1)
	for _, f := range fs {
		if c.s.alive(f) {
			low = min(low, c.s.height(f))
		}
	}
	return low
}

// tryCollapse moves the origin of h into its target if no facets come to meet.
func (c *cleaner) tryCollapse(h int32) bool {
	if !c.canCollapse(h) {
		return false
	}
	star := c.star(h)
	return c.attempt(star, func() { c.collapse(h) })
}

// attempt applies a step that changes the facets fs, and keeps it when they
// have no contacts afterwards, or fewer than before.
func (c *cleaner) attempt(fs []int32, step func()) bool {
	return c.attemptFor(fs, 0.5*min(c.lowest(fs), c.merge), step)
}

// attemptFor is attempt where facets that had no contacts must stay at least need high.
func (c *cleaner) attemptFor(fs []int32, need float64, step func()) bool {
	before := 0
	for _, f := range fs {
		if c.bad[f] {
			before = c.count(fs, math.MaxInt32/8)
			break
		}
	}
	step()
	for _, f := range fs {
		if c.s.alive(f) {
			c.t.widen(f)
		}
	}
	after := c.count(fs, before)
	if after > 0 && after >= before || before == 0 && c.lowest(fs) < need {
		c.revert()
		return false
	}
	c.commit()
	if after > 0 {
		for _, f := range fs {
			c.bad[f] = true
		}
	}
	return true
}

// flipLow flips the longest side of facets lower than the limit when that gives higher ones.
func (c *cleaner) flipLow(zone []int32) {
	for range 2 {
		done := 0
		for _, f := range zone {
			if c.s.alive(f) && c.s.height(f) < c.merge && c.improveLow(f) {
				done++
			}
		}
		if done == 0 {
			return
		}
	}
}

func (c *cleaner) improveLow(f int32) bool {
	h := c.longest(f)
	fs := []int32{f, c.s.twin[h] / 3}
	if !c.canFlip(h) {
		return false
	}
	low := c.lowest(fs)
	return c.attemptFor(fs, 1.01*low, func() { c.flip(h) })
}

// longest returns the longest side of facet f.
func (c *cleaner) longest(f int32) int32 {
	h := 3 * f
	for k := int32(1); k < 3; k++ {
		if c.length(3*f+k) > c.length(h) {
			h = 3*f + k
		}
	}
	return h
}

// part moves vertices apart that fans of facets shared, each towards the
// middle of its own neighbours: metal that met in a point, or hollows that did, come apart there.
func (c *cleaner) part() {
	from := make(map[int32]int32, len(c.s.doubled))
	for _, v := range c.s.doubled {
		from[v] = mesh.None
	}
	for h := range int32(3 * len(c.s.facets)) {
		if _, ok := from[c.s.origin(h)]; ok {
			from[c.s.origin(h)] = h
		}
	}
	for _, v := range c.s.doubled {
		star := c.star(from[v])
		p := c.s.at[v]
		var mid r3.Vector
		for _, f := range star {
			a, b, d := c.s.corners(f)
			mid = mid.Add(a).Add(b).Add(d).Sub(p)
		}
		dir := mid.Mul(0.5 / float64(len(star))).Sub(p)
		for _, share := range [3]float64{0.25, 0.5, 1} {
			step := min(share*c.merge, 0.3*dir.Norm())
			q := snap(p.Add(dir.Normalize().Mul(step)))
			if q != p && c.attempt(star, func() { c.setAt(v, q) }) {
				c.s.moved[v] = true
				break
			}
		}
	}
}
