package bvh

import (
	"math/bits"

	"github.com/golang/geo/r3"
)

// wideRay is a ray in the boxes' coordinates, its origin moved near to them: origin and direction, of which no component is beyond 1.
type wideRay struct {
	o, d [3]float32
}

// walkWide is walkRay on the wide nodes. Turning origin and direction into a node's
// axes takes a few roundings, which amount to a ray that passes a few 2^-24 of
// the reach beside; the boxes are larger by more than that.
func (t *Tree) walkWide(nodes []wideNode, o, d r3.Vector, w span, hit func(RayHit) float64) {
	r := wideRay{o: t.local(o.Add(d.Mul(w.start)))}
	e := d.Mul(1 / w.size)
	r.d = [3]float32{float32(e.X), float32(e.Y), float32(e.Z)}
	limit := w.limit()
	var room [4 * width]todo
	var near [width]float32
	stack := room[:0]
	for at := int32(0); at >= 0; {
		n := &nodes[at]
		met := slabs(n, &r, limit, &near) & (1<<n.count - 1)
		if !n.facets && met != 0 {
			stack, at = push(stack, n, met, &near)
			continue
		}
		for ; met != 0; met &= met - 1 {
			k := bits.TrailingZeros32(met)
			if !(near[k] <= limit) {
				continue
			}
			i := n.first + int32(k)
			c := &t.tri[i]
			if u, side := meet(&o, &d, &t.v[c[0]], &t.v[c[1]], &t.v[c[2]]); side != 0 && u >= w.least && u <= w.most {
				w.most = hit(RayHit{int(t.id[i]), u, side})
				limit = w.limit()
			}
		}
		stack, at = pop(stack, limit)
	}
}
