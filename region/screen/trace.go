package screen

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
	"skinstock/region"
)

// station is a place on the centre line of a passage.
type station struct {
	c, a r3.Vector // a points along the line
	r    float64
	s    float64 // length along the line from its first end, mm
}

// maxStations ends a trace that goes round in a ring or wanders about.
const maxStations = 2000

// trace follows a passage both ways from a seed.
func (p *part) trace(sd seed) (b Bore, ok bool) {
	first, good := p.cut(sd.c, sd.a, sd.r)
	if !good {
		return b, false
	}
	st := station{c: first.c, a: first.axis(sd.a), r: first.r}
	b.walls, b.rms = first.walls, first.rms
	n := 1.0
	back := st
	back.a = back.a.Mul(-1)
	ahead := p.short(st, p.walk(st, &b, &n))
	behind := p.short(back, p.walk(back, &b, &n))
	b.walls /= n
	b.rms /= n
	if b.walls < fullness || b.rms > roundness {
		return b, false
	}
	for _, t := range behind {
		t.a = t.a.Mul(-1)
		b.line = append(b.line, t)
	}
	slices.Reverse(b.line)
	b.line = append(append(b.line, st), ahead...)

	first0, last := b.line[0], b.line[len(b.line)-1]
	e0, z0 := p.end(station{c: first0.c, a: first0.a.Mul(-1), r: first0.r})
	e1, z1 := p.end(last)
	b.Ends = [2]End{e0, e1}
	p.measure(&b, z0, z1)
	return b, b.DepthMM >= 0.04*b.DiameterMM
}

// walk follows a passage one way and returns the stations after the first.
func (p *part) walk(at station, b *Bore, n *float64) (line []station) {
	start := at
	for len(line) < maxStations {
		next, sec, ok := p.step(at, 0.5*at.r)
		if !ok {
			if next, sec, ok = p.bridge(at); !ok {
				break
			}
		}
		if len(line) > 6 && next.c.Sub(start.c).Norm() < 0.4*start.r {
			break // round in a ring
		}
		line = append(line, next)
		b.walls += sec.walls
		b.rms += sec.rms
		*n++
		at = next
	}
	return line
}

// step goes on by the length l along the axis of a station.
func (p *part) step(at station, l float64) (station, section, bool) {
	c := at.c.Add(at.a.Mul(l))
	if p.tree.Blocked(at.c, c) {
		return at, section{}, false
	}
	sec, ok := p.cut(c, at.a, at.r)
	if !ok || sec.walls < 0.5 || math.Abs(sec.r-at.r) > wallBand*at.r || sec.rms > 0.12 || sec.c.Sub(c).Norm() > 0.4*at.r {
		return at, section{}, false
	}
	a := sec.axis(at.a)
	if sec.tilted*5 > sec.n { // a wavy wall tells nothing: follow the centres, slowly
		a = at.a.Mul(4).Add(sec.c.Sub(at.c).Normalize()).Normalize()
	}
	return station{c: sec.c, a: a, r: sec.r}, sec, true
}

// bridge goes on across the mouth of a passage that crosses: straight ahead, as
// long as part of the wall is there and none draws in, until the same circle is met again.
func (p *part) bridge(at station) (station, section, bool) {
	for k := 1; k <= 12; k++ {
		l := 0.25 * float64(k) * at.r
		if k >= 4 && k%2 == 0 {
			next, sec, ok := p.step(at, l)
			if ok && sec.walls >= fullness && math.Abs(sec.r-at.r) < 0.05*at.r && next.a.Dot(at.a) > 0.99 {
				return next, sec, true
			}
		}
		if wall, nearer := p.wallShare(at.c.Add(at.a.Mul(l)), at.a, at.r); wall < 0.25 || nearer > 0.1 {
			return at, section{}, false
		}
	}
	return at, section{}, false
}

// wallShare returns the shares of the ways from c across a that meet a wall at
// about the distance r, and nearer.
func (p *part) wallShare(c, a r3.Vector, r float64) (about, nearer float64) {
	u, v := region.Across(a)
	for k := range rays {
		h, ok := p.wallAt(c, u.Mul(fan[k][0]).Add(v.Mul(fan[k][1])), r)
		if ok {
			about += 1.0 / rays
		}
		if h.T < (1-wallBand)*r {
			nearer += 1.0 / rays
		}
	}
	return about, nearer
}

// wallAt looks from c for a wall at about the distance r.
func (p *part) wallAt(c, d r3.Vector, r float64) (bvh.RayHit, bool) {
	h, ok := p.tree.Ray(c, d, 0, 1.25*r)
	if !ok {
		h.T = math.Inf(1)
	}
	return h, ok && h.Side < 0 && h.T > 0.75*r
}

// end looks how a passage ends ahead of a station, and how far that is: where
// the wall ends, as a mean round the circle, or where the floor is on the axis.
func (p *part) end(at station) (e End, z float64) {
	u, v := region.Across(at.a)
	// A little beside the axis, where a fan of facets has its middle vertex, and
	// from a little behind, since the station may stand on the floor.
	back := 0.1 * at.r
	floor, _ := p.look(at.c.Sub(at.a.Mul(back)).Add(u.Mul(0.02*at.r)).Add(v.Mul(0.007*at.r)), at.a)
	floor -= back
	limit := max(min(4*at.r, floor-1e-3*at.r), 0)
	sec, ok := p.cut(at.c, at.a, at.r)
	plain := ok && sec.tilted*5 < sec.n
	lean := p.lean(at)
	slope := lean / math.Sqrt(1-lean*lean)
	var sum, far float64
	n := 0
	for k := range rays {
		d := u.Mul(fan[k][0]).Add(v.Mul(fan[k][1]))
		lo, ok := wallEnd(at.r/4, -2*at.r, limit, func(z float64) bool {
			h, ok := p.wallAt(at.c.Add(at.a.Mul(z)), d, at.r)
			if !ok || !plain {
				return ok
			}
			// The face round an oblique mouth does not look back, a countersink leans, a step lies off.
			n := p.normal[h.Facet]
			return n.Dot(d) < -0.7 && math.Abs(n.Dot(at.a)-lean) < countersink && math.Abs(h.T-at.r-z*slope) < wallBand*at.r
		})
		if !ok {
			continue
		}
		sum += lo
		far = max(far, lo)
		n++
	}
	if n > 0 {
		z = sum / float64(n)
	}
	if floor < z+1.2*at.r && (floor-z < 0.05*at.r || p.shut(at.c.Add(at.a.Mul((z+floor)/2)), at.a, at.r) >= 0.7) {
		return End{At: at.c.Add(at.a.Mul(floor)), Kind: Blind}, floor
	}
	e.At = at.c.Add(at.a.Mul(z))
	beyond := at.c.Add(at.a.Mul(min(far+0.15*at.r, (far+floor)/2)))
	switch {
	case p.shut(beyond, at.a, at.r) < 0.8:
		e.Kind = Open
	case p.nearest(beyond, at.a, at.r) < 0.8*at.r:
		e.Kind = Narrows
	default:
		e.Kind = Widens
	}
	return e, z
}

// countersink is how much more a wall leans where a mouth begins to widen: sine of 25 degrees.
const countersink = 0.42

// short leaves out stations at the end of a line that stand in the round of a mouth.
func (p *part) short(from station, line []station) []station {
	for n := len(line); n > 0; n-- {
		before := from
		if n > 1 {
			before = line[n-2]
		}
		if math.Abs(p.lean(line[n-1])-p.lean(before)) < countersink/2 {
			return line[:n]
		}
	}
	return nil
}

// lean returns the mean sine of the angle between the walls around a station and its axis.
func (p *part) lean(at station) float64 {
	u, v := region.Across(at.a)
	sum, n := 0.0, 0
	for k := range rays {
		if h, ok := p.wallAt(at.c, u.Mul(fan[k][0]).Add(v.Mul(fan[k][1])), at.r); ok {
			sum += p.normal[h.Facet].Dot(at.a)
			n++
		}
	}
	return sum / float64(max(n, 1))
}

// wallEnd returns where a wall ends, looking ahead from 0 in steps and, where
// there is no wall any more as at an oblique mouth, back; ok is false when there is none.
func wallEnd(step, from, to float64, there func(z float64) bool) (z float64, ok bool) {
	lo, hi := 0.0, 0.0
	if there(0) {
		for {
			if lo >= to {
				return to, true
			}
			if hi = min(lo+step, to); !there(hi) {
				break
			}
			lo = hi
		}
	} else {
		for lo = -step; !there(lo); lo -= step {
			if hi = lo; lo < from {
				return 0, false
			}
		}
	}
	for range 16 {
		if mid := (lo + hi) / 2; there(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}

// shut returns the share of ways from c across a that meet a wall not far away.
func (p *part) shut(c, a r3.Vector, r float64) float64 {
	u, v := region.Across(a)
	n := 0
	for k := range rays {
		if _, ok := p.tree.Ray(c, u.Mul(fan[k][0]).Add(v.Mul(fan[k][1])), 0, farAway*r); ok {
			n++
		}
	}
	return float64(n) / rays
}

// nearest returns the middle one of the distances from c to the walls across a.
func (p *part) nearest(c, a r3.Vector, r float64) float64 {
	u, v := region.Across(a)
	var d []float64
	for k := range rays {
		if h, ok := p.tree.Ray(c, u.Mul(fan[k][0]).Add(v.Mul(fan[k][1])), 0, farAway*r); ok {
			d = append(d, h.T)
		}
	}
	if len(d) == 0 {
		return math.Inf(1)
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// measure fills in lengths, middle and diameters of a traced passage whose wall
// goes on z0 before its first and z1 after its last station.
func (p *part) measure(b *Bore, z0, z1 float64) {
	s := z0
	for i := range b.line {
		if i > 0 {
			s += b.line[i].c.Sub(b.line[i-1].c).Norm()
		}
		b.line[i].s = s
	}
	b.DepthMM = s + z1
	first, last := b.line[0], b.line[len(b.line)-1]
	b.Curved = first.a.Dot(last.a) < math.Cos(10*math.Pi/180)
	chord := b.Ends[1].At.Sub(b.Ends[0].At)
	b.Axis = chord.Normalize()
	if !b.Curved {
		var sum r3.Vector
		for _, t := range b.line {
			sum = sum.Add(t.a)
		}
		b.Axis = sum.Normalize()
	}
	b.At = b.place(b.DepthMM / 2)
	b.MinDiameterMM = math.Inf(1)
	for _, t := range b.line {
		b.MinDiameterMM = min(b.MinDiameterMM, 2*t.r)
		b.MaxDiameterMM = max(b.MaxDiameterMM, 2*t.r)
	}
	const steps = 64
	for i := range steps {
		b.DiameterMM += b.widthAt(b.DepthMM*(float64(i)+0.5)/steps) / steps
	}
}

// place returns the point at length s of the centre line.
func (b *Bore) place(s float64) r3.Vector {
	for i, t := range b.line {
		if t.s >= s {
			if i == 0 {
				return t.c.Sub(t.a.Mul(t.s - s))
			}
			q := b.line[i-1]
			w := (s - q.s) / (t.s - q.s)
			return q.c.Mul(1 - w).Add(t.c.Mul(w))
		}
	}
	t := b.line[len(b.line)-1]
	return t.c.Add(t.a.Mul(s - t.s))
}

// widthAt returns the diameter at length s of the centre line.
func (b *Bore) widthAt(s float64) float64 {
	l := b.line
	if s <= l[0].s {
		return 2 * l[0].r
	}
	for i := 1; i < len(l); i++ {
		if l[i].s >= s {
			w := (s - l[i-1].s) / (l[i].s - l[i-1].s)
			return 2 * (l[i-1].r*(1-w) + l[i].r*w)
		}
	}
	return 2 * l[len(l)-1].r
}
