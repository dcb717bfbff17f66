package screen

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
)

// findBores finds the round holes and channels, in order of their facets.
func (p *part) findBores(ctx context.Context) ([]Bore, error) {
	seeds, err := p.seeds(ctx)
	if err != nil {
		return nil, err
	}
	var bores []Bore
	tried := map[seedKey]bool{}
	type found struct {
		Bore
		facet int32
	}
	var all []found
	for i, sd := range seeds {
		if i%64 == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		if p.claimed[sd.facet] || tried[keyOf(sd.c, sd.r)] || within(bores, sd) {
			continue
		}
		tried[keyOf(sd.c, sd.r)] = true
		b, ok := p.trace(sd)
		if !ok {
			continue
		}
		facets := p.wallsOf(&b)
		var area float64
		for _, f := range facets {
			area += p.area[f]
		}
		// What has no wall along most of its length is a view through a lattice, no
		// hole; less than round, it must be whole, as a hexagon is.
		whole := area / (math.Pi * b.DiameterMM * b.DepthMM)
		if whole < 0.5 || b.rms > 0.035 && whole < 0.75 || b.rms > 0.05 && whole < 0.9 {
			continue
		}
		// Nor is the neck of a branching void.
		if !p.flanks(&b, facets) && p.leans(&b, facets) > 0.35 {
			continue
		}
		// Nor is the way through several bodies, such as the links of a chain.
		if p.bodyShare(facets) < 0.9*area {
			for _, f := range facets {
				p.claimed[f] = true
			}
			continue
		}
		p.refine(&b, facets)
		for _, f := range facets {
			p.claimed[f] = true
		}
		bores = append(bores, b)
		all = append(all, found{b, slices.Min(facets)})
	}
	threads, first, err := p.findThreads(ctx)
	if err != nil {
		return nil, err
	}
	for i := range threads {
		bores = append(bores, threads[i])
		all = append(all, found{threads[i], first[i]})
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(a.facet, b.facet) })
	for i := range all {
		bores[i] = all[i].Bore
	}
	doors := p.connect(bores)
	for i := range bores {
		p.reachBore(&bores[i])
	}
	return acrossOthers(bores, doors), nil
}

// bodyShare returns the largest area that facets have in one shell.
func (p *part) bodyShare(facets []int32) float64 {
	sum := map[int32]float64{}
	var most float64
	for _, f := range facets {
		sum[p.shellOf[f]] += p.area[f]
		most = max(most, sum[p.shellOf[f]])
	}
	return most
}

// within tells whether a seed lies on the axis of a hole that is known.
func within(bores []Bore, sd seed) bool {
	for i := range bores {
		b := &bores[i]
		if math.Abs(2*sd.r-b.DiameterMM) > 0.3*b.DiameterMM {
			continue
		}
		if d, s := b.distance(sd.c); d < 0.5*sd.r && s > 0 && s < b.DepthMM {
			return true
		}
	}
	return false
}

// distance returns the distance of a point from the centre line and the length
// along the line at the place nearest to it; beyond the ends the line runs on straight.
func (b *Bore) distance(q r3.Vector) (d, s float64) {
	k, best := 0, math.Inf(1)
	for i := range b.line {
		if e := q.Sub(b.line[i].c).Norm2(); e < best {
			k, best = i, e
		}
	}
	t := b.line[k]
	z := q.Sub(t.c).Dot(t.a)
	return q.Sub(t.c).Sub(t.a.Mul(z)).Norm(), t.s + z
}

// wallsOf returns the facets that bound the hole sideways and belong to no other, ascending.
func (p *part) wallsOf(b *Bore) []int32 {
	var out []int32
	seen := map[int32]bool{}
	last := math.Inf(-1)
	for i, t := range b.line {
		if i > 0 && i < len(b.line)-1 && t.s-last < 0.4*t.r {
			continue
		}
		last = t.s
		p.tree.VisitBall(t.c, 1.25*t.r, func(f int) bool {
			if p.claimed[f] || p.area[f] == 0 || seen[int32(f)] {
				return true
			}
			x, y, z := p.m.Triangle(f)
			g := x.Add(y).Add(z).Mul(1.0 / 3)
			d, s := b.distance(g)
			w := b.widthAt(s) / 2
			if s < -0.02*w || s > b.DepthMM+0.02*w || d < 0.75*w || d > 1.25*w {
				return true
			}
			if away := g.Sub(b.place(s)).Normalize(); p.normal[f].Dot(away) > -0.25 {
				return true
			}
			seen[int32(f)] = true
			out = append(out, int32(f))
			return true
		})
	}
	slices.Sort(out)
	return out
}

// refine takes the diameter of a straight hole of one width from the
// vertices of its wall, which a mesher puts on the circle, where the facets
// between them lie inside it; and tells whether the wall is a thread.
func (p *part) refine(b *Bore, facets []int32) {
	b.Threaded = !b.Curved && p.flanks(b, facets) && b.MaxDiameterMM-b.MinDiameterMM < 0.1*b.DiameterMM
	if b.Curved || b.Threaded {
		return
	}
	u, v := across(b.Axis)
	xy := p.rim(facets, func(q r3.Vector) ([2]float64, bool) {
		q = q.Sub(b.At)
		x, y := q.Dot(u), q.Dot(v)
		return [2]float64{x, y}, math.Abs(math.Hypot(x, y)-b.DiameterMM/2) < 0.25*b.DiameterMM/2
	})
	x, y, r, ok := circle(xy)
	if !ok || math.Hypot(x, y) > 0.1*r || math.Abs(2*r-b.DiameterMM) > 0.1*b.DiameterMM {
		return
	}
	var off float64
	for _, q := range xy {
		off += math.Pow(math.Hypot(q[0]-x, q[1]-y)-r, 2)
	}
	if math.Sqrt(off/float64(len(xy))) > straightWall*r {
		return // tapered, stepped or torn
	}
	b.DiameterMM, b.MinDiameterMM, b.MaxDiameterMM = 2*r, 2*r, 2*r
	for i := range b.line {
		b.line[i].r = r
	}
	shift := u.Mul(x).Add(v.Mul(y))
	b.At = b.At.Add(shift)
}

// flanks tells whether a wall leans both ways along the axis in every quarter
// of the depth, as a thread does and the neck of a branching void does not.
func (p *part) flanks(b *Bore, facets []int32) bool {
	var all, up, down [4]float64
	for _, f := range facets {
		x, y, z := p.m.Triangle(int(f))
		_, s := b.distance(x.Add(y).Add(z).Mul(1.0 / 3))
		q := min(max(int(4*s/b.DepthMM), 0), 3)
		all[q] += p.area[f]
		switch d := p.normal[f].Dot(b.Axis); {
		case d > 0.35:
			up[q] += p.area[f]
		case d < -0.35:
			down[q] += p.area[f]
		}
	}
	for q := range all {
		if min(up[q], down[q]) < 0.1*all[q] || all[q] == 0 {
			return false
		}
	}
	return true
}

// leans returns the share of a wall that stands at more than 20 degrees to the
// centre line, which in a hole of any kind but a thread is small.
func (p *part) leans(b *Bore, facets []int32) float64 {
	var all, lean float64
	for _, f := range facets {
		x, y, z := p.m.Triangle(int(f))
		g := x.Add(y).Add(z).Mul(1.0 / 3)
		near := 0
		for i := range b.line {
			if b.line[i].c.Sub(g).Norm2() < b.line[near].c.Sub(g).Norm2() {
				near = i
			}
		}
		all += p.area[f]
		if math.Abs(p.normal[f].Dot(b.line[near].a)) > 0.35 {
			lean += p.area[f]
		}
	}
	return lean / all
}

// straightWall is how far the vertices of a wall lie off a cylinder at most,
// rms in radii: a hole that tapers by 3.5 % from end to end has as much.
const straightWall = 0.01

// rim returns the vertices of a wall as flat puts them: those on its edges,
// which lie on the circle where one within a flat facet, as a cut leaves it,
// lies inside; all where the facets are too fine to tell.
func (p *part) rim(facets []int32, flat func(r3.Vector) ([2]float64, bool)) [][2]float64 {
	const plain = 0.9998 // cosine of 1.1 degrees
	var all, edge [][2]float64
	first := map[int32]int32{}
	var order []int32
	bent := map[int32]bool{}
	for _, f := range facets {
		for _, k := range p.m.Facets[f] {
			if g, ok := first[k]; !ok {
				first[k] = f
				order = append(order, k)
			} else if p.normal[f].Dot(p.normal[g]) < plain {
				bent[k] = true
			}
		}
	}
	for _, k := range order {
		if xy, ok := flat(p.m.Vertices[k]); ok {
			all = append(all, xy)
			if bent[k] {
				edge = append(edge, xy)
			}
		}
	}
	if len(edge) >= 6 {
		return edge
	}
	return all
}

// door is where an end of a hole meets another: its number, or -1, and the
// length along its centre line.
type door struct {
	into int
	s    float64
}

// acrossOthers joins the two pieces of a hole that a wider one cuts through.
// Each piece keeps its reach, for both open into the wider hole.
func acrossOthers(bores []Bore, doors [][2]door) []Bore {
	gone := make([]bool, len(bores))
	for i := range bores {
		for e := range 2 {
			for j := i + 1; j < len(bores); j++ {
				k := doors[i][e].into
				if k < 0 || gone[i] || gone[j] || bores[i].Curved || bores[j].Curved {
					continue
				}
				for g := range 2 {
					a, b := bores[i].Ends[e].At, bores[j].Ends[g].At
					gap := b.Sub(a)
					out := a.Sub(bores[i].Ends[1-e].At).Normalize()
					if doors[j][g].into != k || math.Abs(bores[i].DiameterMM-bores[j].DiameterMM) > 0.02*bores[i].DiameterMM ||
						gap.Dot(out) < 0 || gap.Norm() > 2*bores[k].DiameterMM || gap.Cross(out).Norm() > 0.05*bores[i].DiameterMM ||
						math.Abs(bores[i].Axis.Dot(bores[j].Axis)) < 0.999 {
						continue
					}
					bores[i].append(&bores[j], e, g)
					doors[i][e] = doors[j][1-g]
					gone[j] = true
					break
				}
			}
		}
	}
	var out []Bore
	for i := range bores {
		if !gone[i] {
			out = append(out, bores[i])
		}
	}
	return out
}

// append adds the hole c, whose end g lies opposite the end e of b, to b.
func (b *Bore) append(c *Bore, e, g int) {
	if e == 0 {
		b.turn()
	}
	if g == 1 {
		c.turn()
	}
	gap := c.Ends[0].At.Sub(b.Ends[1].At).Norm()
	for _, t := range c.line {
		t.s += b.DepthMM + gap
		b.line = append(b.line, t)
	}
	b.DepthMM += gap + c.DepthMM
	b.Ends[1] = c.Ends[1]
	b.At = b.Ends[0].At.Add(b.Ends[1].At).Mul(0.5)
	b.OpenEnds = 0
	for _, end := range b.Ends {
		if !math.IsInf(end.Diameters, 1) {
			b.OpenEnds++
		}
	}
	r, q := &b.Reach, &c.Reach
	r.LimitMM += q.LimitMM
	r.MarginalMM += q.MarginalMM
	r.FieldMM += q.FieldMM
	r.PrimaryMM += q.PrimaryMM
	r.UnreachedMM += q.UnreachedMM
	r.UnreachedMM2 += q.UnreachedMM2
	r.TooNarrow = r.TooNarrow || q.TooNarrow
}

// turn swaps the ends of a hole.
func (b *Bore) turn() {
	b.Ends[0], b.Ends[1] = b.Ends[1], b.Ends[0]
	b.Axis = b.Axis.Mul(-1)
	slices.Reverse(b.line)
	for i := range b.line {
		b.line[i].a = b.line[i].a.Mul(-1)
		b.line[i].s = b.DepthMM - b.line[i].s
	}
}

// connect finds the way to the bath of ends that meet other holes.
func (p *part) connect(bores []Bore) [][2]door {
	doors := make([][2]door, len(bores))
	for i := range bores {
		for e := range bores[i].Ends {
			end := &bores[i].Ends[e]
			doors[i][e] = door{into: -1}
			end.Diameters = math.Inf(1)
			if end.Kind == Open {
				end.Diameters = 0
			}
			if end.Kind != Narrows && end.Kind != Widens {
				continue
			}
			out := bores[i].line[0].a.Mul(-1)
			if e == 1 {
				out = bores[i].line[len(bores[i].line)-1].a
			}
			q := end.At.Add(out.Mul(0.1 * bores[i].DiameterMM))
			near := math.Inf(1)
			for j := range bores {
				if d, s := bores[j].distance(q); j != i && s >= -0.2*bores[j].DiameterMM && s <= bores[j].DepthMM+0.2*bores[j].DiameterMM {
					if d /= bores[j].DiameterMM; d < 0.6 && d < near {
						doors[i][e], near = door{j, s}, d
					}
				}
			}
			if doors[i][e].into < 0 && end.Kind == Widens && p.sky(q, out) > 0.05 {
				end.Kind, end.Diameters = Open, 0
			}
		}
	}
	// Lengths of ways settle after at most one round a hole.
	for range bores {
		changed := false
		for i := range bores {
			for e := range 2 {
				d := doors[i][e]
				if d.into < 0 {
					continue
				}
				if n := bores[d.into].deep(d.s); n < bores[i].Ends[e].Diameters-1e-9 {
					bores[i].Ends[e].Diameters = n
					changed = true
				}
			}
		}
		if !changed {
			break
		}
	}
	// An end leads to the bath when the way from there need not come back through the hole itself.
	for i := range bores {
		for e := range 2 {
			if bores[i].Ends[e].Kind == Open {
				bores[i].OpenEnds++
				continue
			}
			seen := make([]bool, len(bores))
			seen[i] = true
			todo := []int{doors[i][e].into}
			for len(todo) > 0 {
				j := todo[0]
				todo = todo[1:]
				if j < 0 || bores[i].Ends[e].Kind == Blind || seen[j] {
					continue
				}
				seen[j] = true
				if bores[j].Ends[0].Kind == Open || bores[j].Ends[1].Kind == Open {
					bores[i].OpenEnds++
					break
				}
				todo = append(todo, doors[j][0].into, doors[j][1].into)
			}
		}
	}
	return doors
}

// deep returns how many diameters below the bath the place s of the centre line lies.
func (b *Bore) deep(s float64) float64 {
	var n float64
	const steps = 32
	s = min(max(s, 0), b.DepthMM)
	sum := func(from, to float64) float64 {
		n = 0
		for i := range steps {
			n += (to - from) / steps / b.widthAt(from+(to-from)*(float64(i)+0.5)/steps)
		}
		return n
	}
	return min(b.Ends[0].Diameters+sum(0, s), b.Ends[1].Diameters+sum(s, b.DepthMM))
}

// sky returns the share of the directions on the side of d in which q sees out of the part.
func (p *part) sky(q, d r3.Vector) float64 {
	n, free := 0, 0
	for _, e := range sphere {
		if e.Dot(d) <= 0 {
			continue
		}
		n++
		if _, hit := p.tree.Ray(q, e, 0, math.Inf(1)); !hit {
			free++
		}
	}
	return float64(free) / float64(max(n, 1))
}

func (b *Bore) name() string {
	what := "blind hole"
	switch {
	case b.Curved:
		what = "curved channel"
	case b.Threaded:
		what = "threaded hole"
	case b.OpenEnds == 2:
		what = "through hole"
	case b.OpenEnds == 0:
		what = "inner hole"
	}
	return fmt.Sprintf("%s of diameter %.2f mm, %.2f mm deep", what, b.DiameterMM, b.DepthMM)
}

// boreFindings says which holes the bath does not reach, like ones together.
func (p *part) boreFindings(bores []Bore) []finding.Finding {
	type kind struct {
		d, l   int
		open   int
		narrow bool
	}
	index := map[kind]int{}
	var out []finding.Finding
	for i := range bores {
		b := &bores[i]
		if b.Reach.UnreachedMM <= 0.02*b.DepthMM {
			continue
		}
		k := kind{int(math.Round(50 * math.Log(b.DiameterMM))), int(math.Round(20 * math.Log(b.DepthMM))), b.OpenEnds, b.Reach.TooNarrow}
		if j, ok := index[k]; ok {
			out[j].Count++
			continue
		}
		index[k] = len(out)
		at := b.At
		msg := fmt.Sprintf("%s: %s", b.name(), b.Reach.says(p.lim, "diameters", b.OpenEnds == 2, b.DiameterMM))
		f := finding.Finding{Code: "bore_unreached", Severity: finding.Warning, Message: msg, At: &at, SizeMM: b.DiameterMM, Count: 1}
		if b.Reach.slight(b.DepthMM) {
			f.Severity = finding.Info
		}
		switch {
		case b.Threaded:
			f.Remedy = "cut the thread after the bath, or mask it"
		case b.Reach.TooNarrow && b.OpenEnds < 2:
			f.Remedy = "drill it after the bath, or make it wider"
		case b.OpenEnds == 2:
			f.Remedy = "use an inner cathode or forced flow, or give it stock and machine it after the bath"
		case b.OpenEnds == 0:
			f.Remedy = "open a way to the bath, or take its allowance off"
		default:
			f.Remedy = "make it a through hole, shorten it, or machine it after the bath"
		}
		out = append(out, f)
	}
	return out
}
