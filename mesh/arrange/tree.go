package arrange

import (
	"math"

	"github.com/golang/geo/r3"
)

// box is an axis-parallel box: least then greatest coordinates, mm. The
// corners are single-precision values, so it is exact.
type box [6]float32

var emptyBox = box{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32}

func (b *box) add(p r3.Vector) {
	x, y, z := float32(p.X), float32(p.Y), float32(p.Z)
	b[0], b[1], b[2] = min(b[0], x), min(b[1], y), min(b[2], z)
	b[3], b[4], b[5] = max(b[3], x), max(b[4], y), max(b[5], z)
}

func (b *box) join(c *box) {
	for k := range 3 {
		b[k], b[k+3] = min(b[k], c[k]), max(b[k+3], c[k+3])
	}
}

// meets tells whether the closed boxes have a common point.
func (b *box) meets(c *box) bool {
	return b[0] <= c[3] && c[0] <= b[3] && b[1] <= c[4] && c[1] <= b[4] && b[2] <= c[5] && c[2] <= b[5]
}

// tree is a bounding box tree over the facets of a surface, in a heap: the
// children of node i are 2i+1 and 2i+2, so that a facet's boxes can be widened
// in place when a vertex moves.
type tree struct {
	s      *surface
	nodes  []box
	leaves int     // a power of two
	order  []int32 // facets along the curve; leaf l holds order[l*leafSize : (l+1)*leafSize]
	slot   []int32 // leaf of every facet
}

const leafSize = 4

func (s *surface) box(f int32) box {
	b := emptyBox
	t := s.facets[f]
	if t[0] < 0 {
		return b
	}
	b.add(s.at[t[0]])
	b.add(s.at[t[1]])
	b.add(s.at[t[2]])
	return b
}

func newTree(s *surface) *tree {
	n := len(s.facets)
	t := &tree{s: s, leaves: 1, order: s.curveOrder(), slot: make([]int32, n)}
	for t.leaves*leafSize < n {
		t.leaves *= 2
	}
	t.nodes = make([]box, 2*t.leaves-1)
	for i := range t.nodes {
		t.nodes[i] = emptyBox
	}
	for i, f := range t.order {
		l := i / leafSize
		t.slot[f] = int32(l)
		b := s.box(f)
		t.nodes[t.leaves-1+l].join(&b)
	}
	for i := t.leaves - 2; i >= 0; i-- {
		t.nodes[i].join(&t.nodes[2*i+1])
		t.nodes[i].join(&t.nodes[2*i+2])
	}
	return t
}

// widen makes the boxes above facet f hold its present corners.
func (t *tree) widen(f int32) {
	b := t.s.box(f)
	for i := t.leaves - 1 + int(t.slot[f]); ; i = (i - 1) / 2 {
		t.nodes[i].join(&b)
		if i == 0 {
			return
		}
	}
}

// leaf returns the facets of leaf l.
func (t *tree) leaf(l int) []int32 {
	return t.order[min(l*leafSize, len(t.order)):min((l+1)*leafSize, len(t.order))]
}

// visit calls see with every leaf from number first on whose box meets b.
func (t *tree) visit(b *box, first int, see func(leaf int)) {
	var stack [64]int32
	n := 1
	stack[0] = 0
	for n > 0 {
		n--
		i := int(stack[n])
		if !t.nodes[i].meets(b) {
			continue
		}
		if l := i - (t.leaves - 1); l >= 0 {
			if l >= first {
				see(l)
			}
			continue
		}
		stack[n], stack[n+1] = int32(2*i+2), int32(2*i+1)
		n += 2
	}
}

// meets tells whether a facet's box meets b.
func (t *tree) meets(b *box) bool {
	met := false
	t.visit(b, 0, func(l int) {
		for _, f := range t.leaf(l) {
			if c := t.s.box(f); !met && c.meets(b) {
				met = true
			}
		}
	})
	return met
}

// ray calls see with every leaf whose box the ray from o along d may meet.
func (t *tree) ray(o, d r3.Vector, see func(leaf int)) {
	t.rayNode(0, o, d, see)
}

func (t *tree) rayNode(i int, o, d r3.Vector, see func(leaf int)) {
	if t.nodes[i][0] > t.nodes[i][3] || !rayMeets(&t.nodes[i], o, d) { // empty, or missed
		return
	}
	if l := i - (t.leaves - 1); l >= 0 {
		see(l)
		return
	}
	t.rayNode(2*i+1, o, d, see)
	t.rayNode(2*i+2, o, d, see)
}

// rayMeets is a slab test with slack: it may say yes to a near miss, never no to a hit.
func rayMeets(b *box, o, d r3.Vector) bool {
	lo, hi := 0.0, math.Inf(1)
	for k := range 3 {
		ok, dk := axis(o, k), axis(d, k)
		slack := 1e-9 * (1 + math.Abs(ok) + math.Abs(float64(b[k])) + math.Abs(float64(b[k+3])))
		l, h := float64(b[k])-slack-ok, float64(b[k+3])+slack-ok
		if dk == 0 {
			if l > 0 || h < 0 {
				return false
			}
			continue
		}
		l, h = l/dk, h/dk
		if l > h {
			l, h = h, l
		}
		lo, hi = max(lo, l), min(hi, h)
	}
	return lo <= hi*(1+1e-9)
}

// curveKey is a facet and the place of its middle along the curve.
type curveKey struct {
	code uint64
	f    int32
}

// sortByCode sorts keys that ascend by facet by code, then by facet, byte by byte.
func sortByCode(keys []curveKey) []curveKey {
	if len(keys) == 0 {
		return keys
	}
	other := make([]curveKey, len(keys))
	for shift := 0; shift < 64; shift += 8 {
		var next [256]int
		for i := range keys {
			next[byte(keys[i].code>>shift)]++
		}
		if next[byte(keys[0].code>>shift)] == len(keys) {
			continue // all alike here
		}
		sum := 0
		for d, n := range next {
			next[d] = sum
			sum += n
		}
		for _, k := range keys {
			d := byte(k.code >> shift)
			other[next[d]] = k
			next[d]++
		}
		keys, other = other, keys
	}
	return keys
}

// curveOrder returns the facets sorted along a Morton curve through their middles.
func (s *surface) curveOrder() []int32 {
	lo, hi := s.bounds()
	side := max(hi.X-lo.X, hi.Y-lo.Y, hi.Z-lo.Z, 1e-30)
	keys := make([]curveKey, len(s.facets))
	for f, t := range s.facets {
		m := s.at[t[0]].Add(s.at[t[1]]).Add(s.at[t[2]]).Mul(1. / 3).Sub(lo).Mul((1 << 20) / side)
		keys[f] = curveKey{spread(m.X) | spread(m.Y)<<1 | spread(m.Z)<<2, int32(f)}
	}
	keys = sortByCode(keys)
	order := make([]int32, len(keys))
	for i, k := range keys {
		order[i] = k.f
	}
	return order
}

// spread puts two zero bits between the 21 low bits of x.
func spread(x float64) uint64 {
	v := uint64(max(x, 0)) & (1<<21 - 1)
	v = (v | v<<32) & 0x1f00000000ffff
	v = (v | v<<16) & 0x1f0000ff0000ff
	v = (v | v<<8) & 0x100f00f00f00f00f
	v = (v | v<<4) & 0x10c30c30c30c30c3
	return (v | v<<2) & 0x1249249249249249
}
