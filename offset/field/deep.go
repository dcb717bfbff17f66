package field

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/queue"
)

// deepBelow is the factor below which a place in a hole or gap takes its flux
// from the decay law instead of the panels: there the field is the difference
// of large numbers, and its slowest mode alone is left.
const deepBelow = 0.002

// First zero of the Bessel function J0, and pi/2: modes of a primary bore and slot.
const (
	boreMode = 2.404825557695773
	slotMode = math.Pi / 2
)

// boreDecay returns x in exp(-x z/R) for a round bore of radius R whose wall
// polarises: x J1(x) = (R/L) J0(x), and the zero of J0 without polarisation.
func boreDecay(radiusPerLength float64) float64 {
	if math.IsInf(radiusPerLength, 1) {
		return boreMode
	}
	return bisect(0, boreMode, func(x float64) float64 { return x*math.J1(x) - radiusPerLength*math.J0(x) })
}

// BoreDecay returns the rate in 1/mm at which the flux on the wall of a round bore
// falls with depth beyond the mouth, q ~ exp(-rate z), from the bore's radius and
// the polarisation length, both mm (references.md 6.5); a length of 0 gives the
// primary distribution's 2.405 over the radius.
func BoreDecay(radiusMM, lengthMM float64) float64 {
	return boreDecay(radiusMM/lengthMM) / radiusMM
}

// slotDecay returns y in exp(-2 y z/w) for a slot of width w: y tan y = (w/2)/L.
func slotDecay(halfWidthPerLength float64) float64 {
	if math.IsInf(halfWidthPerLength, 1) {
		return slotMode
	}
	return bisect(0, slotMode, func(y float64) float64 { return y*math.Sin(y) - halfWidthPerLength*math.Cos(y) })
}

// bisect finds the root of a function that rises through nought between lo and hi.
func bisect(lo, hi float64, f func(float64) float64) float64 {
	for range 60 {
		if m := 0.5 * (lo + hi); f(m) < 0 {
			lo = m
		} else {
			hi = m
		}
	}
	return 0.5 * (lo + hi)
}

// passage is the cross-section of a hole or gap at a place: narrow and wide
// chord, and whether the place lies on its wall or on its bottom.
type passage struct {
	narrow, wide float64
	bottom       bool
}

// passage measures the cross-section in front of p.
func (g *rooms) passage(p, n r3.Vector) passage {
	hit, ok := g.tree.Ray(p, n, 1e-6*g.most, g.most)
	if !ok {
		narrow, wide := g.chords(p.Add(n.Mul(g.ball(p, n, g.most/2, 0.85)/2)), n)
		return passage{narrow, wide, true}
	}
	if narrow, wide := g.chords(p.Add(n.Mul(hit.T/4)), n); narrow < hit.T/3 {
		return passage{narrow, wide, true}
	}
	narrow, _ := g.chords(p.Add(n.Mul(hit.T/2)), n)
	return passage{math.Min(hit.T, narrow), math.Max(hit.T, narrow), false}
}

// chords returns the shortest chord through c in the plane across n, and the one square to it.
func (g *rooms) chords(c, n r3.Vector) (shortest, square float64) {
	u := n.Ortho()
	v := n.Cross(u)
	const turns = 8
	var chord [turns]float64
	best := 0
	for i := range chord {
		s, k := math.Sincos(math.Pi * float64(i) / turns)
		chord[i] = g.chord(c, u.Mul(k).Add(v.Mul(s)))
		if chord[i] < chord[best] {
			best = i
		}
	}
	return chord[best], math.Max(chord[best], chord[(best+turns/2)%turns])
}

func (g *rooms) chord(c, d r3.Vector) float64 {
	var l float64
	for _, e := range [2]r3.Vector{d, d.Mul(-1)} {
		if h, ok := g.tree.Ray(c, e, 0, g.most); ok {
			l += h.T
		} else {
			l += g.most
		}
	}
	return math.Min(l, g.most)
}

// decay returns the rate of fall along the passage, 1/mm: exact for a slot and
// for a round bore, in between by the squares of the chords.
func (p passage) decay(length float64) float64 {
	w := math.Max(p.narrow, 1e-12)
	slot := 2 * slotDecay(w/2/length) / w
	bore := 2 * boreDecay(w/2/length) / w
	share := (p.narrow / p.wide) * (p.narrow / p.wide)
	return math.Sqrt(slot*slot + share*(bore*bore-slot*slot))
}

// bottomShare is the mean flux on the bottom over that of the wall at the same
// depth, from the leading mode: 4/pi in a slot, 1.66 in a round bore.
func (p passage) bottomShare() float64 {
	share := (p.narrow / p.wide) * (p.narrow / p.wide)
	return 4/math.Pi + share*(1.66-4/math.Pi)
}

// deepen replaces the flux of patches below deepBelow times the mean by the
// decay law, from the nearest patches above it inwards. It returns which
// patches those are. Patches that nothing leads to, as in closed cavities, get 0.
func (s *surface) deepen(ctx context.Context, q []float64, mean, length float64, g *rooms) ([]bool, error) {
	deep := make([]bool, s.n)
	any := false
	cavity := s.cavities()
	for p := range q {
		deep[p] = !s.shut[p] && (q[p] < deepBelow*mean || cavity[p])
		any = any || deep[p]
	}
	if !any {
		return deep, nil
	}
	next := s.neighbours(deep)
	best := make([]float64, s.n) // exponent so far; the larger the better
	wall := make([]float64, s.n) // flux of a wall here
	done := make([]bool, s.n)
	var front queue.Least
	for p := range q {
		best[p] = math.Inf(1)
		if !deep[p] && !s.shut[p] && len(next[p]) > 0 {
			best[p] = -math.Log(q[p])
			front.Push(best[p], int32(p))
		}
	}
	for n := 0; len(front) > 0; n++ {
		e := front.Pop()
		at := e.Number
		if done[at] {
			continue
		}
		if n&255 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		done[at] = true
		wall[at] = math.Exp(-e.Key)
		var k float64
		var ps passage
		if deep[at] {
			ps = g.passage(s.centre[at], s.normal[at].Normalize())
			law := wall[at]
			if ps.bottom {
				law *= ps.bottomShare()
			}
			// The panels are not right here, but not further off than their noise: inner corners take less than the mode.
			q[at] = math.Min(law, math.Max(q[at], 0)+deepBelow/4*mean)
		}
		for _, o := range next[at] {
			if done[o] || !deep[o] {
				continue
			}
			po := g.passage(s.centre[o], s.normal[o].Normalize())
			if k = 0; !po.bottom {
				k = po.decay(length)
			}
			if d := e.Key + k*s.centre[o].Sub(s.centre[at]).Norm(); d < best[o] {
				best[o] = d
				front.Push(d, o)
			}
		}
	}
	for p := range q {
		if deep[p] && (!done[p] || q[p] < 1e-12*mean) {
			q[p] = 0
		}
	}
	return deep, nil
}

// cavities marks the patches of shells that enclose no metal but a void: no
// current enters there, and what the panels find is noise.
func (s *surface) cavities() []bool {
	t := s.c.Topology()
	shell := make([]int32, len(s.c.Facets))
	for f := range shell {
		shell[f] = mesh.None
	}
	var volume []float64
	o := s.c.Vertices[s.c.Facets[0][0]]
	for f := range shell {
		if shell[f] != mesh.None {
			continue
		}
		id := int32(len(volume))
		shell[f] = id
		var v float64
		for todo := []int32{int32(f)}; len(todo) > 0; {
			g := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			a, b, c := s.c.Triangle(int(g))
			v += a.Sub(o).Dot(b.Sub(o).Cross(c.Sub(o)))
			for k := range int32(3) {
				if n := t.Twin[3*g+k] / 3; shell[n] == mesh.None {
					shell[n] = id
					todo = append(todo, n)
				}
			}
		}
		volume = append(volume, v)
	}
	out := make([]bool, s.n)
	for f, p := range s.patch {
		if p != mesh.None {
			out[p] = volume[shell[f]] < 0
		}
	}
	return out
}

// neighbours lists, for deep patches and those beside them, the patches across their borders.
func (s *surface) neighbours(deep []bool) [][]int32 {
	next := make([][]int32, s.n)
	t := s.c.Topology()
	add := func(p, o int32) {
		for _, e := range next[p] {
			if e == o {
				return
			}
		}
		next[p] = append(next[p], o)
	}
	for h, g := range t.Twin {
		if g == mesh.None {
			continue
		}
		p, o := s.patch[h/3], s.patch[g/3]
		if p != o && p != mesh.None && o != mesh.None && deep[o] {
			add(p, o)
		}
	}
	return next
}
