package screen

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"skinstock/mesh"
	"skinstock/mesh/sym3"
	"skinstock/region"
)

// A thread's wall is no circle in any one section, but its mean over a pitch is.
const (
	threadLayers = 9    // sections looked at together
	threadSpan   = 0.8  // radii over which they stand: coarse threads have a pitch of 0.4
	threadFull   = 0.9  // share of the ways that must meet a wall
	threadRound  = 0.05 // rms deviation of the mean wall from a circle, in radii
	threadWave   = 0.02 // rms of the wave along the axis, in radii: shallower is no thread
	threadWaves  = 0.22 // deeper is none either
	threadHeight = 1.35 // root over crest: the coarsest standard metric threads have 1.26
	threadSharp  = 1.5  // the same of long ones: drawn with sharp crests and roots they have up to 1.47
	threadLong   = 0.3  // least depth in diameters
)

// coil is the wall about a piece of an axis, as seen from it.
type coil struct {
	c       r3.Vector // on the axis
	a       r3.Vector
	r       float64 // mean
	lo, hi  float64 // 5 % and 95 % of the distances
	wave    float64 // rms along the axis, in radii
	flanked float64 // share of the wall that does not run along the axis
}

// coilAt looks from about c across a for a wall of mean radius about r.
func (p *part) coilAt(c, a r3.Vector, r float64) (k coil, ok bool) {
	u, v := region.Across(a)
	for range 3 {
		var xy [][2]float64
		var all []float64
		var mean, square [rays]float64
		var count [rays]float64
		flanks, astray := 0, 0
		for j := range threadLayers {
			z := (float64(j)/(threadLayers-1) - 0.5) * threadSpan * r
			o := c.Add(a.Mul(z))
			for i := range rays {
				h, hit := p.tree.Ray(o, u.Mul(fan[i][0]).Add(v.Mul(fan[i][1])), 0, 1.6*r)
				if hit && h.Side > 0 {
					return k, false
				}
				if !hit || h.T < 0.5*r {
					if astray++; float64(rays*threadLayers-astray) < threadFull*rays*threadLayers {
						return k, false
					}
					continue
				}
				xy = append(xy, [2]float64{h.T * fan[i][0], h.T * fan[i][1]})
				all = append(all, h.T)
				count[i]++
				mean[i] += h.T
				square[i] += h.T * h.T
				if math.Abs(p.normal[h.Facet].Dot(a)) > 0.35 {
					flanks++
				}
			}
		}
		x, y, fit, good := region.FitCircle(xy)
		if !good || math.Hypot(x, y) > 0.9*fit {
			return k, false
		}
		if shift := math.Hypot(x, y); shift > 0.01*fit {
			c, r = c.Add(u.Mul(x)).Add(v.Mul(y)), fit
			continue
		}
		slices.Sort(all)
		k = coil{c: c, a: a, r: fit, lo: all[len(all)/20], hi: all[len(all)-1-len(all)/20], flanked: float64(flanks) / float64(len(all))}
		var off float64
		for i := range rays {
			if count[i] == 0 {
				return k, false
			}
			m := mean[i] / count[i]
			off += (m - fit) * (m - fit) / rays
			k.wave += max(square[i]/count[i]-m*m, 0) / rays
		}
		k.wave = math.Sqrt(k.wave) / fit
		return k, math.Sqrt(off) < threadRound*fit && k.wave > threadWave && k.wave < threadWaves && k.flanked > 0.2
	}
	return k, false
}

// crest is a place on a sharp convex edge with the free way ahead of it.
type crest struct {
	at, n r3.Vector
	mm    float64
	facet int32
}

// crests returns one of those vertices on sharp convex edges, by the turn of
// their facets, whose rays along the mean normal have about the same middle and length.
func (p *part) crests() []crest {
	const turn = 0.9 // cosine of 26 degrees: the flanks of a thread turn by 60 to 120
	mean := make([]r3.Vector, len(p.m.Vertices))
	one := make([]int32, len(p.m.Vertices))
	for i := range one {
		one[i] = -1
	}
	for h, t := range p.topo.Twin {
		if t <= int32(h) {
			continue
		}
		f, g := int32(h)/3, t/3
		n1, n2 := p.normal[f], p.normal[g]
		if p.claimed[f] || p.claimed[g] || p.hollow[f] || p.stray[f] || n1.Dot(n2) > turn || p.sliver(f) || p.sliver(g) {
			continue
		}
		a, b := p.m.Origin(int32(h)), p.m.Target(int32(h))
		if p.m.Vertices[p.m.Origin(mesh.Prev(t))].Sub(p.m.Vertices[a]).Dot(n1) >= 0 {
			continue // concave
		}
		for _, v := range [2]int32{a, b} {
			mean[v] = mean[v].Add(n1).Add(n2)
			one[v] = f
		}
	}
	seen := map[seedKey]bool{}
	var out []crest
	for v, f := range one {
		if f < 0 || mean[v].Norm() == 0 {
			continue
		}
		c := crest{at: p.m.Vertices[v], n: mean[v].Normalize(), facet: f}
		if c.mm, _ = p.look(c.at, c.n); math.IsInf(c.mm, 1) || c.mm < 200*p.eps {
			continue
		}
		if k := keyOf(c.at.Add(c.n.Mul(c.mm/2)), c.mm/6); !seen[k] {
			seen[k] = true
			out = append(out, c)
		}
	}
	return out
}

// threadBatch is how many crests are tried side by side, of which the one whose
// thread goes furthest has the truest axis.
const threadBatch = 48

// findThreads finds threaded holes that no plain section fits, with the lowest
// facet of each.
func (p *part) findThreads(ctx context.Context) (bores []Bore, first []int32, err error) {
	heads := p.crests()
	for len(heads) > 0 {
		batch := heads[:min(threadBatch, len(heads))]
		heads = heads[len(batch):]
		found := make([]followed, len(batch))
		err := p.eachSlowly(ctx, len(batch), func(i int) {
			if !p.claimed[batch[i].facet] {
				found[i] = p.threadAt(&batch[i])
			}
		})
		if err != nil {
			return nil, nil, err
		}
		slices.SortStableFunc(found, func(a, b followed) int { return cmp.Compare(b.DepthMM, a.DepthMM) })
		for i := range found {
			b := &found[i]
			// The height of a thread shows truly from its true axis only.
			if b.facets == nil || b.tooHigh() || slices.ContainsFunc(b.facets, func(f int32) bool { return p.claimed[f] }) {
				continue
			}
			for _, f := range b.facets {
				p.claimed[f], p.thread[f] = true, true
			}
			bores = append(bores, b.Bore)
			first = append(first, slices.Min(b.facets))
		}
	}
	return bores, first, nil
}

// threadAt looks for a thread that a crest belongs to; without facets there is none.
func (p *part) threadAt(h *crest) (f followed) {
	c := h.at.Add(h.n.Mul(h.mm / 2))
	if !p.shutIn(c, h.mm/2) {
		return f
	}
	k := p.tryCoil(c, h.mm/2)
	if k.r == 0 {
		return f
	}
	f = p.followCoil(k)
	for range 2 {
		if f.facets == nil {
			break
		}
		if better, ok := p.trueAxis(&f.Bore); ok {
			if g := p.followCoil(better); g.DepthMM > f.DepthMM {
				f = g
			}
		}
	}
	return f
}

// tooHigh tells whether roots and crests lie further apart than a thread's.
func (b *Bore) tooHigh() bool {
	most := threadHeight
	if b.DepthMM > b.DiameterMM {
		most = threadSharp
	}
	return b.MaxDiameterMM >= most*b.MinDiameterMM
}

// trueAxis fits the axis to the whole wall of a thread: the distance of the
// wall is a constant plus shift and tilt of the axis, each times the cosine and
// sine of the angle, by least squares.
func (p *part) trueAxis(b *Bore) (k coil, ok bool) {
	const layers = 41
	u, v := region.Across(b.Axis)
	a := mat.NewDense(5, 5, nil)
	y := mat.NewVecDense(5, nil)
	r := b.DiameterMM / 2
	for j := range layers {
		z := ((float64(j)+0.5)/layers - 0.5) * b.DepthMM
		o := b.At.Add(b.Axis.Mul(z))
		for i := range rays {
			h, hit := p.tree.Ray(o, u.Mul(fan[i][0]).Add(v.Mul(fan[i][1])), 0, 1.5*r)
			if !hit || h.Side > 0 || h.T < 0.6*r {
				continue
			}
			c, s := fan[i][0], fan[i][1]
			row := [5]float64{1, c, s, c * z, s * z}
			for m := range 5 {
				for n := range 5 {
					a.Set(m, n, a.At(m, n)+row[m]*row[n])
				}
				y.SetVec(m, y.AtVec(m)+row[m]*h.T)
			}
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, y); err != nil {
		return k, false
	}
	axis := b.Axis.Add(u.Mul(x.AtVec(3))).Add(v.Mul(x.AtVec(4))).Normalize()
	return p.coilAt(b.At.Add(u.Mul(x.AtVec(1))).Add(v.Mul(x.AtVec(2))), axis, x.AtVec(0))
}

// followed is a thread with its wall.
type followed struct {
	Bore
	facets []int32
}

// shutIn tells whether most ways from c meet a wall within some radii.
func (p *part) shutIn(c r3.Vector, r float64) bool {
	n := 0
	for _, d := range sphere[:] {
		if h, ok := p.tree.Ray(c, d, 0, 3*r); ok {
			if h.Side > 0 {
				return false
			}
			n++
		}
	}
	return n > len(sphere)/2
}

// tryCoil tries the main directions of the walls' normals about c for an axis.
func (p *part) tryCoil(c r3.Vector, r float64) (best coil) {
	var s sym3.Matrix
	for _, d := range sphere {
		if h, ok := p.tree.Ray(c, d, 0, 3*r); ok {
			s.Add(p.normal[h.Facet], 1)
		}
	}
	_, vec := s.Eigen()
	for _, a := range vec {
		k, ok := p.coilAt(c, a, r)
		if !ok {
			continue
		}
		// The normals of the walls lie evenly about the axis: their moments tell it better.
		if a, ok = p.straighten(k); ok {
			if q, good := p.coilAt(k.c, a, k.r); good {
				k = q
			}
		}
		if best.r == 0 || k.wave < best.wave {
			best = k
		}
	}
	return best
}

// straighten returns the axis through the middles of two layers apart.
func (p *part) straighten(k coil) (r3.Vector, bool) {
	d := 0.5 * k.r
	x, ok := p.coilAt(k.c.Add(k.a.Mul(d)), k.a, k.r)
	y, good := p.coilAt(k.c.Sub(k.a.Mul(d)), k.a, k.r)
	if !ok || !good {
		return k.a, false
	}
	return x.c.Sub(y.c).Normalize(), true
}

// followCoil goes along a thread both ways to its ends; without facets it is none.
func (p *part) followCoil(k coil) (b followed) {
	u, v := region.Across(k.a)
	there := func(z float64) bool {
		o := k.c.Add(k.a.Mul(z))
		n := 0
		for i := range rays {
			h, hit := p.tree.Ray(o, u.Mul(fan[i][0]).Add(v.Mul(fan[i][1])), 0, 1.2*k.hi)
			if hit && h.Side > 0 {
				return false
			}
			if hit && h.T > 0.8*k.lo {
				n++
			}
		}
		return n >= rays*3/4
	}
	ends := [2]float64{}
	for e, sign := range [2]float64{-1, 1} {
		step := 0.1 * k.r
		z := 0.0
		for n := 0; n < maxStations && there(sign*(z+step)); n++ {
			z += step
		}
		lo, hi := z, z+step
		for range 12 {
			if mid := (lo + hi) / 2; there(sign * mid) {
				lo = mid
			} else {
				hi = mid
			}
		}
		ends[e] = lo
		d := k.a.Mul(sign)
		at := k.c.Add(d.Mul(lo))
		b.Ends[e] = End{At: at, Kind: Widens}
		floor, _ := p.look(at.Add(u.Mul(0.02*k.r)).Sub(d.Mul(step)), d)
		switch beyond := at.Add(d.Mul(0.1 * k.r)); {
		case floor < 0.4*k.r+step:
			b.Ends[e].Kind = Blind
		case p.sky(beyond, d) > 0.05:
			b.Ends[e].Kind = Open
		case p.nearest(beyond, d, k.r) < k.lo:
			b.Ends[e].Kind = Narrows
		}
	}
	for i := range 5 {
		z := -ends[0] + (ends[0]+ends[1])*float64(i)/4
		b.line = append(b.line, station{c: k.c.Add(k.a.Mul(z)), a: k.a, r: k.r, s: z + ends[0]})
	}
	b.Threaded, b.Axis = true, k.a
	b.DepthMM = ends[0] + ends[1]
	b.At = b.Ends[0].At.Add(b.Ends[1].At).Mul(0.5)
	b.DiameterMM, b.MinDiameterMM, b.MaxDiameterMM = 2*k.r, 2*k.lo, 2*k.hi
	b.walls = 1
	if b.DepthMM < threadLong*b.DiameterMM {
		return b
	}
	b.facets = p.wallsOf(&b.Bore)
	var area float64
	for _, f := range b.facets {
		area += p.area[f]
	}
	if area < 0.7*math.Pi*b.DiameterMM*b.DepthMM {
		b.facets = nil
	}
	return b
}
