package bvh

import (
	"cmp"
	"context"
	"math/bits"
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
	NoArea int        // facets without area, which were not tested: their edges are their neighbours'; not counted by SelfCrossingsNear
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

// couple is two sides of nodes whose facets are to be tested against each
// other, or twice the same one. A side is twice the node's number, and one more
// for its second child.
type couple struct{ a, b int32 }

// side returns the box and the child of a side.
func (t *Tree) side(s int32) (*box, int32) {
	nd := &t.nodes[s>>1]
	return &nd.box[s&1], nd.child[s&1]
}

func (t *Tree) crossings(ctx context.Context, opt CrossingOptions, marked []bool) (*Crossings, error) {
	s := &search{t: t, want: t.marks(marked, opt.Workers)}
	var err error
	if marked == nil {
		err = s.measure(ctx, opt.Workers)
	}
	if err != nil {
		return nil, err
	}
	if s.open, err = s.openFans(ctx, opt.Workers); err != nil {
		return nil, err
	}
	tasks := s.tasks()
	found := make([][][2]int32, len(tasks))
	err = inChunks(ctx, len(tasks), 1, opt.Workers, func(i, _ int) error {
		w := worker{search: s, stack: []couple{tasks[i]}, last: few{end: -1}}
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
	flat   []bool     // facets without area, in the leaves' order; nil to look when asked
	box    facetBoxes // around the facets, likewise; empty to measure when asked
	noArea int
	open   []bool // vertices whose facets meet nowhere else, see openFans
	want   *marks
}

// measure finds the facets without area, and takes the boxes of all.
func (s *search) measure(ctx context.Context, workers int) error {
	const chunk = 1 << 13
	n := len(s.t.tri)
	s.flat, s.box = make([]bool, n), newFacetBoxes(n)
	count := make([]int, (n+chunk-1)/chunk)
	err := inChunks(ctx, n, chunk, workers, func(lo, hi int) error {
		for i := lo; i < hi; i++ {
			if s.flat[i] = s.t.flat(int32(i)); s.flat[i] {
				count[lo/chunk]++
			}
			b := s.t.around(leafCode(i, 1))
			s.box.set(i, &b)
		}
		return nil
	})
	for _, c := range count {
		s.noArea += c
	}
	return err
}

// flat tells whether the facet at place i of the leaves' order has no area.
func (t *Tree) flat(i int32) bool {
	a, b, c := t.corners(i)
	ab, ac := b.Sub(a), c.Sub(a)
	// Far above the rounding of the cross product there is no need to ask exactly.
	return (ab.Cross(ac).Norm2() <= 1e-24*ab.Norm2()*ac.Norm2() || ab.Norm2() < 1e-100) && exact.Collinear(a, b, c)
}

func (s *search) noAreaAt(i int32) bool {
	if s.flat == nil {
		return s.t.flat(i)
	}
	return s.flat[i]
}

// tasks opens couples in rounds until there are enough of them for many
// workers. The list is the same for any number of workers.
func (s *search) tasks() []couple {
	tasks := s.within(nil, 0)
	for range 14 {
		if len(tasks) > 1024 {
			break
		}
		var next []couple
		for _, c := range tasks {
			if a, b := s.t.few(c.a), s.t.few(c.b); a.end >= 0 && b.end >= 0 {
				next = append(next, c)
			} else {
				next = s.below(next, c, a, b)
			}
		}
		tasks = next
	}
	return tasks
}

// within appends the couples of a node's own sides.
func (s *search) within(to []couple, node int32) []couple {
	for k, c := range s.t.nodes[node].child {
		if s.want.has(c) {
			to = append(to, couple{2*node + int32(k), 2*node + int32(k)})
		}
	}
	return s.join(to, 2*node, 2*node+1)
}

// few is what is below a side: the facets from first to end in the leaves' order
// where they are no more than lanes, else end is negative.
type few struct{ child, first, end int32 }

func (t *Tree) few(side int32) few {
	_, c := t.side(side)
	if c < 0 {
		first, end := leafRange(c)
		return few{c, first, end}
	}
	if below := &t.nodes[c].child; below[0] < 0 && below[1] < 0 {
		first, _ := leafRange(below[0])
		_, end := leafRange(below[1])
		return few{c, first, end}
	}
	return few{c, 0, -1}
}

// below appends the couples that a couple of the sides a and b stands for, which are not both few.
func (s *search) below(to []couple, c couple, a, b few) []couple {
	switch {
	case c.a == c.b:
		return s.within(to, a.child)
	case a.end < 0 && b.end < 0:
		for i := range int32(2) {
			for j := range int32(2) {
				to = s.join(to, 2*a.child+i, 2*b.child+j)
			}
		}
		return to
	case a.end >= 0:
		return s.join(s.join(to, c.a, 2*b.child), c.a, 2*b.child+1)
	}
	return s.join(s.join(to, 2*a.child, c.b), 2*a.child+1, c.b)
}

// join appends the couple of two different sides when their boxes meet.
func (s *search) join(to []couple, a, b int32) []couple {
	ba, ca := s.t.side(a)
	bb, cb := s.t.side(b)
	if !overlap(ba, bb) || !s.want.either(ca, cb) {
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

	last few // whose boxes are in own
	own  [lanes]bounds
	room facetBoxes
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
		if a, b := w.t.few(c.a), w.t.few(c.b); a.end >= 0 && b.end >= 0 {
			w.leaves(a, b)
		} else {
			w.stack = w.below(w.stack, c, a, b)
		}
	}
	return nil
}

// boxes returns where the boxes around few facets are.
func (w *worker) boxes(a few) (in *facetBoxes, first int) {
	if w.box.at != nil {
		return &w.box, int(a.first)
	}
	if w.room.at == nil {
		w.room = newFacetBoxes(lanes)
	}
	for i := a.first; i < a.end; i++ {
		b := w.t.around(leafCode(int(i), 1))
		w.room.set(int(i-a.first), &b)
	}
	return &w.room, 0
}

// leaves tests few facets against few others, or against each other.
func (w *worker) leaves(a, b few) {
	if w.last != a {
		in, first := w.boxes(a)
		for k := range a.end - a.first {
			w.own[k] = in.get(first + int(k))
		}
		w.last = a
	}
	in, first := w.boxes(b)
	for k := range a.end - a.first {
		met := in.meeting(first, int(b.end-b.first), &w.own[k])
		if a == b {
			met &^= 1<<(k+1) - 1
		}
		for ; met != 0; met &= met - 1 {
			w.test(a.first+k, b.first+int32(bits.TrailingZeros32(met)))
		}
	}
}

// test tests the facets at two places of the leaves' order and keeps them when they cross.
func (w *worker) test(i, j int32) {
	t := w.t
	if !w.want.facet(i, j) || w.inOpenFan(&t.tri[i], &t.tri[j]) || w.noAreaAt(i) || w.noAreaAt(j) {
		return
	}
	if !crosses(triangleAt(t, i), triangleAt(t, j)) {
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
		return !partedByEdge(&a, &b) && exact.Meet(a, b)
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
