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

// clean works on a linked surface and leaves a linked one.
func (s *surface) clean(ctx context.Context, workers int, merge float64) error {
	zone := s.zone()
	if len(zone) == 0 {
		return nil
	}
	c := &cleaner{editor{s: s, t: newTree(s), bad: map[int32]bool{}}, merge}
	if err := c.look(ctx, workers, zone); err != nil {
		return err
	}
	c.collapseShort(zone, merge)
	c.flipLow(zone)
	for range 3 {
		if err := c.look(ctx, workers, zone); err != nil {
			return err
		}
		if len(c.cs) == 0 || !c.untangle() {
			break
		}
	}
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

// untangle tries steps around every contact that leave fewer contacts:
// collapses of short edges, flips, and small moves of fresh vertices. It tells
// whether any helped.
func (c *cleaner) untangle() bool {
	helped := false
	for _, x := range c.cs {
		for _, f := range [2]int32{x.a, x.b} {
			if !c.s.alive(f) || !c.bad[f] {
				continue
			}
			if c.count([]int32{f}, 1) == 0 {
				delete(c.bad, f)
				continue
			}
			helped = c.untangleFacet(f) || helped
		}
	}
	return helped
}

func (c *cleaner) untangleFacet(f int32) bool {
	for k := range int32(3) {
		h := 3*f + k
		if c.length(h) > 4*c.merge {
			continue
		}
		if c.s.fresh(c.s.origin(h)) && c.tryCollapse(h) {
			return true
		}
		if t := c.s.twin[h]; c.s.fresh(c.s.origin(t)) && c.tryCollapse(t) {
			return true
		}
	}
	if h := c.longest(f); c.s.height(f) < c.merge && c.canFlip(h) {
		fs := []int32{f, c.s.twin[h] / 3}
		if c.attempt(fs, func() { c.flip(h) }) {
			return true
		}
	}
	for k := range int32(3) {
		if h := 3*f + k; c.s.fresh(c.s.origin(h)) && c.tryMove(h) {
			return true
		}
	}
	return false
}

// tryMove moves the origin of h towards the middle of its neighbours, or a
// little way out or in.
func (c *cleaner) tryMove(h int32) bool {
	star := c.star(h)
	v := c.s.origin(h)
	p := c.s.at[v]
	var mid, out r3.Vector
	n := 0.0
	c.s.fan(h, func(g int32) {
		mid = mid.Add(c.s.at[c.s.target(g)])
		out = out.Add(c.s.areaNormal(g / 3))
		n++
	})
	dir := mid.Mul(1 / n).Sub(p)
	reach := min(dir.Norm(), c.merge)
	dir = dir.Normalize()
	out = out.Normalize()
	for _, d := range [4]r3.Vector{dir.Mul(reach / 8), dir.Mul(reach / 2), out.Mul(c.merge / 8), dir.Mul(reach)} {
		q := snap(p.Add(d))
		if q != p && c.attempt(star, func() { c.setAt(v, q) }) {
			return true
		}
	}
	return false
}
