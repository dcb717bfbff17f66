package field

import (
	"context"
	"math"

	"github.com/golang/geo/r3"
)

const invFourPi = 1 / (4 * math.Pi)

// closeRange is the distance, in radii of a panel, below which it is integrated
// in closed form and beyond which by its points.
const closeRange = 2.5

// operator applies V - L K + L/2 to a flux per panel: near pairs from stored
// entries, far ones by the fast multipole method.
type operator struct {
	ps      []panel
	t       *tree
	degree  int
	workers int

	entries [][]float32 // per leaf (by node): its rows one after the other, columns leaf by leaf of the near list
	out, in [][]float32 // per panel: moments, and weights of the local expansion, both scaled to its leaf
	scale   [][]float64 // per leaf (by node): what the coefficients are multiplied by to become ordinary

	moments, local []harmonic // per node
	scratch        []harmonic // per worker
	kept           int        // stored entries
}

// entry is what panel j puts on point x at unit flux; own is the piece of j in which x lies, or -1.
func (p *panel) entry(x r3.Vector, own int) float64 {
	if own < 0 {
		if d2 := x.Sub(p.at).Norm2(); d2 > closeRange*closeRange*p.radius*p.radius {
			return p.pointEntry(x)
		}
	}
	var v, k float64
	for i := range p.pieces {
		q := &p.pieces[i]
		a, b := layers(x, q.a, q.b, q.c)
		if i == own {
			// In its own plane: no height, and no angle but the half that the caller adds.
			v += a
			continue
		}
		v += a
		k += b
	}
	return (p.charge*v - p.length*k) * invFourPi
}

// meanEntry is what panel p puts on panel t in the mean over its tests, same
// telling that they are one. From some way off the middle of the tests stands for them all.
func (p *panel) meanEntry(t *panel, same bool) float64 {
	if d := closeRange*p.radius + 3*t.radius; t.mid.Sub(p.at).Norm2() > d*d {
		return p.pointEntry(t.mid)
	}
	var sum float64
	for i := range t.tests {
		c := &t.tests[i]
		own := -1
		if same {
			own = c.piece
		}
		sum += c.weight * p.entry(c.at, own)
	}
	return sum
}

func (p *panel) pointEntry(x r3.Vector) float64 {
	var v, k float64
	for i := range p.points {
		s := &p.points[i]
		d := x.Sub(s.at)
		i2 := 1 / d.Norm2()
		i1 := math.Sqrt(i2)
		v += s.weight * i1
		k += s.dipole.Dot(d) * i1 * i2
	}
	return (p.charge*v - p.length*k) * invFourPi
}

// newOperator computes what is needed once; ps come in the order of t.
func newOperator(ctx context.Context, ps []panel, t *tree, degree, workers int) (*operator, error) {
	o := &operator{ps: ps, t: t, degree: degree, workers: max(1, workers)}
	nn := len(t.nodes)
	o.entries, o.scale = make([][]float32, nn), make([][]float64, nn)
	o.out, o.in = make([][]float32, len(ps)), make([][]float32, len(ps))
	o.moments, o.local = make([]harmonic, nn), make([]harmonic, nn)
	for i := range t.nodes {
		o.moments[i], o.local[i] = newHarmonic(degree), newHarmonic(degree)
	}
	o.scratch = make([]harmonic, o.workers)
	for i := range o.scratch {
		o.scratch[i] = newHarmonic(degree)
	}
	err := spread(ctx, o.workers, len(t.leaves), 1, func(w, lo, hi int) {
		for _, l := range t.leaves[lo:hi] {
			o.nearEntries(l)
			o.expansions(l, o.scratch[w])
		}
	})
	for _, e := range o.entries {
		o.kept += len(e)
	}
	return o, err
}

func (o *operator) nearEntries(l int32) {
	nd := &o.t.nodes[l]
	cols := 0
	for _, s := range o.t.near[l] {
		cols += int(o.t.nodes[s].hi - o.t.nodes[s].lo)
	}
	e := make([]float32, 0, cols*int(nd.hi-nd.lo))
	for i := nd.lo; i < nd.hi; i++ {
		for _, s := range o.t.near[l] {
			for j := o.t.nodes[s].lo; j < o.t.nodes[s].hi; j++ {
				v := o.ps[j].meanEntry(&o.ps[i], i == j)
				if i == j {
					v += o.ps[j].length / 2
				}
				e = append(e, float32(v))
			}
		}
	}
	o.entries[l] = e
}

// expansions fills the moments and local weights of a leaf's panels, in single
// precision; degree n is scaled by n!/radius^n, which keeps them near one.
func (o *operator) expansions(l int32, r harmonic) {
	nd := &o.t.nodes[l]
	p := o.degree
	sc := make([]float64, p+1)
	sc[0] = 1
	for n := 1; n <= p; n++ {
		sc[n] = sc[n-1] * nd.reach / float64(n)
	}
	o.scale[l] = sc
	m := newHarmonic(p)
	for j := nd.lo; j < nd.hi; j++ {
		m.zero()
		for _, s := range o.ps[j].points {
			r.regular(p, s.at.Sub(nd.centre))
			m.addFar(p, r, o.ps[j].charge*s.weight, s.dipole.Mul(-o.ps[j].length))
		}
		o.out[j] = pack(m, p, sc)
		m.zero()
		for _, c := range o.ps[j].tests {
			r.regular(p, c.at.Sub(nd.centre))
			for i := range m.re {
				m.re[i] += c.weight * r.re[i]
				m.im[i] += c.weight * r.im[i]
			}
		}
		o.in[j] = pack(m, p, sc)
	}
}

// pack keeps the orders 0..n: the real parts of order 0, then real and
// imaginary parts of the higher orders.
func pack(h harmonic, p int, sc []float64) []float32 {
	v := make([]float32, 0, terms(p))
	for n := 0; n <= p; n++ {
		c, k := n*n+n, 1/sc[n]
		v = append(v, float32(h.re[c]*k))
		for m := 1; m <= n; m++ {
			v = append(v, float32(h.re[c+m]*k), float32(h.im[c+m]*k))
		}
	}
	return v
}

// apply sets y to the operator on x.
func (o *operator) apply(ctx context.Context, x, y []float64) error {
	if err := o.upward(ctx, x); err != nil {
		return err
	}
	if err := o.downward(ctx); err != nil {
		return err
	}
	return spread(ctx, o.workers, len(o.t.leaves), 1, func(_, lo, hi int) {
		for _, l := range o.t.leaves[lo:hi] {
			o.leafSums(l, x, y)
		}
	})
}

// upward gathers the moments of all nodes.
func (o *operator) upward(ctx context.Context, x []float64) error {
	p := o.degree
	err := spread(ctx, o.workers, len(o.t.leaves), 4, func(_, lo, hi int) {
		acc := make([]float64, terms(p))
		for _, l := range o.t.leaves[lo:hi] {
			clear(acc)
			nd := &o.t.nodes[l]
			for j := nd.lo; j < nd.hi; j++ {
				q := x[j]
				for i, v := range o.out[j] {
					acc[i] += q * float64(v)
				}
			}
			unpack(acc, o.moments[l], p, o.scale[l])
		}
	})
	for lv := len(o.t.levels) - 2; lv >= 0 && err == nil; lv-- {
		ids := o.t.levels[lv]
		err = spread(ctx, o.workers, len(ids), 4, func(w, lo, hi int) {
			for _, id := range ids[lo:hi] {
				nd := &o.t.nodes[id]
				if nd.leaf() {
					continue
				}
				m := o.moments[id]
				m.zero()
				for _, c := range []int32{nd.left, nd.right} {
					o.scratch[w].regular(p, o.t.nodes[c].centre.Sub(nd.centre))
					m.shiftMoments(p, o.moments[c], o.scratch[w])
				}
				m.mirror(p)
			}
		})
	}
	return err
}

func unpack(v []float64, h harmonic, p int, sc []float64) {
	i := 0
	for n := 0; n <= p; n++ {
		c, k := n*n+n, sc[n]
		h.re[c], h.im[c] = v[i]*k, 0
		i++
		for m := 1; m <= n; m++ {
			h.re[c+m], h.im[c+m] = v[i]*k, v[i+1]*k
			i += 2
		}
	}
	h.mirror(p)
}

// downward carries the far groups' potential to every leaf.
func (o *operator) downward(ctx context.Context) error {
	p := o.degree
	err := spread(ctx, o.workers, len(o.t.nodes), 4, func(w, lo, hi int) {
		s := o.scratch[w]
		for id := lo; id < hi; id++ {
			h := o.local[id]
			h.zero()
			for _, f := range o.t.far[id] {
				s.irregular(p, o.t.nodes[id].centre.Sub(o.t.nodes[f].centre))
				h.addLocal(p, o.moments[f], s)
			}
			h.signLocal(p)
		}
	})
	for lv := 1; lv < len(o.t.levels) && err == nil; lv++ {
		ids := o.t.levels[lv]
		err = spread(ctx, o.workers, len(ids), 4, func(w, lo, hi int) {
			for _, id := range ids[lo:hi] {
				nd := &o.t.nodes[id]
				o.scratch[w].regular(p, nd.centre.Sub(o.t.nodes[nd.parent].centre))
				o.local[id].shiftLocal(p, o.local[nd.parent], o.scratch[w])
				o.local[id].mirror(p)
			}
		})
	}
	return err
}

// leafSums adds up near entries and the local expansion at a leaf's panels.
func (o *operator) leafSums(l int32, x, y []float64) {
	nd := &o.t.nodes[l]
	p := o.degree
	w := make([]float64, 0, terms(p))
	for n := 0; n <= p; n++ {
		c, k := n*n+n, o.scale[l][n]*invFourPi
		w = append(w, o.local[l].re[c]*k)
		for m := 1; m <= n; m++ {
			w = append(w, 2*o.local[l].re[c+m]*k, 2*o.local[l].im[c+m]*k)
		}
	}
	e := o.entries[l]
	for i := nd.lo; i < nd.hi; i++ {
		var sum float64
		for k, v := range o.in[i] {
			sum += float64(v) * w[k]
		}
		for _, s := range o.t.near[l] {
			xs := x[o.t.nodes[s].lo:o.t.nodes[s].hi]
			for k, v := range e[:len(xs)] {
				sum += float64(v) * xs[k]
			}
			e = e[len(xs):]
		}
		y[i] = sum
	}
}
