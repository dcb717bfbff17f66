package bvh

import (
	"cmp"
	"context"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/exact"
)

// CrossingOptions say how to look for crossings.
type CrossingOptions struct {
	Workers int // goroutines; 0 takes GOMAXPROCS
	Limit   int // pairs kept in the result, the lowest numbers; 0 keeps all
}

// Crossings are pairs of facets that meet where they should not.
type Crossings struct {
	Pairs  [][2]int32 // lower number first, ascending; cut at the limit
	Total  int        // all pairs found
	NoArea int        // facets without area, which were not tested: their edges are their neighbours'
}

// Facets returns the facets of the pairs, ascending, never nil.
func (c *Crossings) Facets() []int32 {
	out := make([]int32, 0, 2*len(c.Pairs))
	for _, p := range c.Pairs {
		out = append(out, p[0], p[1])
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// SelfCrossings finds the pairs of facets that have a point in common beyond
// the corners and edges they share. Touching counts. Corners are shared when
// their coordinates are equal, whatever their numbers, as in a file that knows
// no numbers. Facets that share an edge cross when they are folded flat onto
// each other, and facets with three corners in common always. The
// decisions are exact.
func (t *Tree) SelfCrossings(ctx context.Context, opt CrossingOptions) (*Crossings, error) {
	return t.crossings(ctx, opt, nil)
}

// SelfCrossingsNear is SelfCrossings for the pairs of which at least one facet
// is marked: what is to be tested again after some facets have moved.
func (t *Tree) SelfCrossingsNear(ctx context.Context, marked []bool, opt CrossingOptions) (*Crossings, error) {
	return t.crossings(ctx, opt, marked)
}

// couple is two children, the first at or before the second, whose facets are to be tested against each other.
type couple struct{ a, b int32 }

func (t *Tree) crossings(ctx context.Context, opt CrossingOptions, marked []bool) (*Crossings, error) {
	s := &search{t: t, want: t.marks(marked)}
	if err := s.measure(ctx, opt.Workers); err != nil {
		return nil, err
	}
	var err error
	if s.open, err = t.openFans(ctx, opt.Workers); err != nil {
		return nil, err
	}
	tasks := s.tasks()
	found := make([][][2]int32, len(tasks))
	err = inChunks(ctx, len(tasks), 1, opt.Workers, func(i, _ int) error {
		w := worker{search: s, stack: []couple{tasks[i]}}
		err := w.run(ctx)
		found[i] = w.pairs
		return err
	})
	if err != nil {
		return nil, err
	}
	c := &Crossings{Pairs: slices.Concat(found...), NoArea: s.noArea}
	slices.SortFunc(c.Pairs, func(a, b [2]int32) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	c.Total = len(c.Pairs)
	if opt.Limit > 0 && len(c.Pairs) > opt.Limit {
		c.Pairs = slices.Clip(c.Pairs[:opt.Limit])
	}
	return c, nil
}

// search is what the workers share and only read.
type search struct {
	t      *Tree
	flat   []bool // facets without area, in the leaves' order
	noArea int
	open   []bool // vertices whose facets meet nowhere else, see openFans
	want   *marks
}

// measure finds the facets without area.
func (s *search) measure(ctx context.Context, workers int) error {
	const chunk = 1 << 13
	n := len(s.t.tri)
	s.flat = make([]bool, n)
	count := make([]int, (n+chunk-1)/chunk)
	err := inChunks(ctx, n, chunk, workers, func(lo, hi int) error {
		for i := lo; i < hi; i++ {
			a, b, c := s.t.corners(int32(i))
			ab, ac := b.Sub(a), c.Sub(a)
			// Far above the rounding of the cross product there is no need to ask exactly.
			if ab.Cross(ac).Norm2() <= 1e-24*ab.Norm2()*ac.Norm2() || ab.Norm2() < 1e-100 {
				s.flat[i] = exact.Collinear(a, b, c)
			}
			if s.flat[i] {
				count[lo/chunk]++
			}
		}
		return nil
	})
	for _, c := range count {
		s.noArea += c
	}
	return err
}

// tasks opens couples in rounds until there are enough of them for many
// workers. The list is the same for any number of workers.
func (s *search) tasks() []couple {
	tasks := []couple{{0, 0}}
	for range 14 {
		if len(tasks) > 1024 {
			break
		}
		var next []couple
		for _, c := range tasks {
			if c.a < 0 && c.b < 0 {
				next = append(next, c)
			} else {
				next = s.below(next, c)
			}
		}
		tasks = next
	}
	return tasks
}

// below appends the couples of children that a couple stands for, which is not one of leaves.
func (s *search) below(to []couple, c couple) []couple {
	t := s.t
	switch {
	case c.a == c.b:
		nd := &t.nodes[c.a]
		for _, k := range nd.child {
			if s.want.has(k) {
				to = append(to, couple{k, k})
			}
		}
		return s.join(to, &nd.box[0], &nd.box[1], nd.child[0], nd.child[1])
	case c.a >= 0 && c.b >= 0:
		na, nb := &t.nodes[c.a], &t.nodes[c.b]
		for i := range 2 {
			for j := range 2 {
				to = s.join(to, &na.box[i], &nb.box[j], na.child[i], nb.child[j])
			}
		}
		return to
	}
	in, leaf := c.a, c.b
	if in < 0 {
		in, leaf = leaf, in
	}
	nd := &t.nodes[in]
	bd := t.leafBox(leaf)
	for i := range 2 {
		to = s.join(to, &nd.box[i], &bd, nd.child[i], leaf)
	}
	return to
}

// join appends the couples below two disjoint children whose boxes are known.
func (s *search) join(to []couple, ba, bb *box, a, b int32) []couple {
	if !overlap(ba, bb) || !s.want.either(a, b) {
		return to
	}
	return append(to, couple{a, b})
}

func overlap(a, b *box) bool {
	for k := range 3 {
		d, h := a[k]-b[k], a[3+k]+b[3+k]
		if d > h || -d > h {
			return false
		}
	}
	return true
}

// worker goes down from one couple.
type worker struct {
	*search
	stack []couple
	pairs [][2]int32
}

func (w *worker) run(ctx context.Context) error {
	for steps := 0; len(w.stack) > 0; steps++ {
		if steps%4096 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		c := w.stack[len(w.stack)-1]
		w.stack = w.stack[:len(w.stack)-1]
		switch {
		case c.a >= 0 || c.b >= 0:
			w.stack = w.below(w.stack, c)
		case c.a == c.b:
			lo, hi := leafRange(c.a)
			for i := lo; i < hi; i++ {
				for j := i + 1; j < hi; j++ {
					w.test(i, j)
				}
			}
		default:
			w.leaves(c.a, c.b)
		}
	}
	return nil
}

// leafBox is the box of a leaf, computed again from its facets.
func (t *Tree) leafBox(leaf int32) box {
	bd := t.around(leaf)
	return bd.padded(t.pad)
}

// leaves tests the facets of two leaves.
func (w *worker) leaves(a, b int32) {
	ia, ea := leafRange(a)
	ib, eb := leafRange(b)
	for i := ia; i < ea; i++ {
		for j := ib; j < eb; j++ {
			w.test(i, j)
		}
	}
}

// test tests the facets at two places of the leaves' order and keeps them when they cross.
func (w *worker) test(i, j int32) {
	t := w.t
	if w.inOpenFan(&t.tri[i], &t.tri[j]) || w.flat[i] || w.flat[j] || !w.want.facet(i, j) {
		return
	}
	a, b := triangleAt(t, i), triangleAt(t, j)
	if apart(&a, &b) || !crosses(a, b) {
		return
	}
	f, g := t.id[i], t.id[j]
	w.pairs = append(w.pairs, [2]int32{min(f, g), max(f, g)})
}

// inOpenFan tells whether two facets have a corner in common around which all is well.
func (s *search) inOpenFan(a, b *[3]int32) bool {
	for _, v := range a {
		if (v == b[0] || v == b[1] || v == b[2]) && s.open[v] {
			return true
		}
	}
	return false
}

func triangleAt(t *Tree, i int32) exact.Triangle {
	a, b, c := t.corners(i)
	return exact.Triangle{a, b, c}
}

// apart tells whether the boxes of two triangles have nothing in common.
func apart(a, b *exact.Triangle) bool {
	return max(a[0].X, a[1].X, a[2].X) < min(b[0].X, b[1].X, b[2].X) || min(a[0].X, a[1].X, a[2].X) > max(b[0].X, b[1].X, b[2].X) ||
		max(a[0].Y, a[1].Y, a[2].Y) < min(b[0].Y, b[1].Y, b[2].Y) || min(a[0].Y, a[1].Y, a[2].Y) > max(b[0].Y, b[1].Y, b[2].Y) ||
		max(a[0].Z, a[1].Z, a[2].Z) < min(b[0].Z, b[1].Z, b[2].Z) || min(a[0].Z, a[1].Z, a[2].Z) > max(b[0].Z, b[1].Z, b[2].Z)
}

// crosses decides by the number of corners the triangles share. Both have an area.
func crosses(a, b exact.Triangle) bool {
	// mate[k] is the corner of b in the place of corner k of a.
	mate, shared := [3]int{-1, -1, -1}, 0
	for k := range a {
		for l := range b {
			if a[k] == b[l] {
				mate[k] = l
				shared++
				break
			}
		}
	}
	switch shared {
	case 0:
		return !partedByEdge(a, b) && exact.Meet(a, b)
	case 1:
		k := 0
		for mate[k] < 0 {
			k++
		}
		l := mate[k]
		a, b = exact.Triangle{a[k], a[(k+1)%3], a[(k+2)%3]}, exact.Triangle{b[l], b[(l+1)%3], b[(l+2)%3]}
		return !partedAtCorner(a, b) && exact.MeetBeyondCorner(a, b)
	case 2:
		k := 0
		for mate[k] >= 0 {
			k++
		}
		u, v := (k+1)%3, (k+2)%3
		c := b[3-mate[u]-mate[v]]
		return !open(a[u], a[v], a[k], c) && exact.FoldedTogether(exact.Triangle{a[u], a[v], a[k]}, exact.Triangle{a[u], a[v], c})
	}
	return true
}

// open tells whether two triangles over the edge u v clearly lie on different
// sides of it: the perpendiculars point away from each other by far more
// than rounding, which is below 2e-15 of the product of lengths.
func open(u, v, a, c r3.Vector) bool {
	e, p, q := v.Sub(u), a.Sub(u), c.Sub(u)
	n, m := e.Cross(p), e.Cross(q)
	d := n.Dot(m)
	return d < 0 && d*d > 1e-26*e.Norm2()*e.Norm2()*p.Norm2()*q.Norm2()
}
