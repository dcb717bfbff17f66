package screen

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/region"
)

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
			g := p.m.Centroid(f)
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
	u, v := region.Across(b.Axis)
	xy := p.rim(facets, func(q r3.Vector) ([2]float64, bool) {
		q = q.Sub(b.At)
		x, y := q.Dot(u), q.Dot(v)
		return [2]float64{x, y}, math.Abs(math.Hypot(x, y)-b.DiameterMM/2) < 0.25*b.DiameterMM/2
	})
	x, y, r, ok := region.FitCircle(xy)
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
		_, s := b.distance(p.m.Centroid(int(f)))
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
		g := p.m.Centroid(int(f))
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
