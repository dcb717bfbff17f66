package screen

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
	"skinstock/region"
)

// parallel is the cosine of the angle between two skins beyond which they are
// no wall's or gap's two sides but an edge's: about 32 degrees.
const parallel = 0.85

// facingPair is a sample with the skin opposite, through metal or void.
type facingPair struct {
	sample int32
	mm     float64 // as designed
	grow   float64 // added on both sides together
	take   float64 // taken on both sides together
}

// pairs lists the samples that have a skin opposite, thinnest first.
func (p *part) pairs(inwards bool) []facingPair {
	var out []facingPair
	for i := range p.samples {
		s := &p.samples[i]
		g, d := s.outFacet, s.out
		if inwards {
			g, d = s.inFacet, s.in
		}
		if g < 0 || p.hollow[s.facet] || p.thread[s.facet] || !inwards && p.thread[g] || p.sliver(s.facet) || p.normal[s.facet].Dot(p.normal[g]) > -parallel {
			continue
		}
		out = append(out, facingPair{
			sample: int32(i), mm: d,
			grow: mean(p.opt.AllowanceMM, s.facet) + mean(p.opt.AllowanceMM, g),
			take: mean(p.opt.TakenMM, s.facet) + mean(p.opt.TakenMM, g),
		})
	}
	slices.SortFunc(out, func(a, b facingPair) int { return cmp.Or(cmp.Compare(a.mm, b.mm), cmp.Compare(a.sample, b.sample)) })
	return out
}

// least returns the low end of the measure.
func (p *part) least(pairs []facingPair) Least {
	l := Least{Min: math.Inf(1), P01: math.Inf(1)}
	if len(pairs) == 0 {
		return l
	}
	var total, sum float64
	for _, q := range pairs {
		total += p.samples[q.sample].area
	}
	l.Min, l.At = pairs[0].mm, p.samples[pairs[0].sample].at
	for _, q := range pairs {
		sum += p.samples[q.sample].area
		if sum >= 0.01*total {
			l.P01 = q.mm
			break
		}
	}
	return l
}

// walls measures the solid thickness and says where it is too thin as printed
// or after the bath.
func (p *part) walls() (Least, []finding.Finding) {
	pairs := p.pairs(true)
	l := p.lim
	var out []finding.Finding
	groups := p.near(pairs, func(q facingPair) bool {
		return q.mm+q.grow < l.MinWallBuiltMM || q.left() < l.MinWallAfterMM || q.mm-q.take <= 0
	})
	for _, g := range groups {
		if g.area < l.MinPatchMM2 {
			continue
		}
		q := g.worst
		at := p.samples[q.sample].at.Sub(p.normal[p.samples[q.sample].facet].Mul(q.mm / 2))
		f := finding.Finding{Code: "thin_wall", Severity: finding.Warning, At: &at, SizeMM: q.mm, Count: 1}
		what := "wall"
		if p.strut(at, q) {
			what = "strut"
		}
		f.Message = fmt.Sprintf("%s of %.3f mm as designed, %.3f mm as printed, %.3f mm after the bath (%.3f mm without compensation), %s mm2 of skin",
			what, q.mm, q.mm+q.grow, q.left(), max(q.mm-q.take, 0), tenths(g.area))
		switch {
		case q.mm+q.grow < l.MinWallBuiltMM:
			f.Severity = finding.Error
			f.Message += fmt.Sprintf(": below the %.2f mm that print (%s)", l.MinWallBuiltMM, assumed(l.Origins.MinWallBuilt))
			f.Remedy = "make it thicker, or leave it out"
		case q.left() < l.MinWallAfterMM:
			f.Message += fmt.Sprintf(": below the %.2f mm that may be left (%s)", l.MinWallAfterMM, assumed(l.Origins.MinWallAfter))
			f.Remedy = fmt.Sprintf("design at least %.2f mm", l.MinWallAfterMM+q.mm-q.left())
		default:
			f.Message += ": would vanish without compensation"
			f.Remedy = "print the compensated part only, and check the depth taken on a coupon"
		}
		out = append(out, f)
	}
	return p.least(pairs), limited(alike(out))
}

// left returns the thickness after the bath. Stock beyond the depth taken is
// there for the roughness that stands off the surface and adds nothing.
func (q facingPair) left() float64 { return q.mm + min(q.grow-q.take, 0) }

// strut tells whether the metal about a place is as thin in the other
// direction too, as a rod is and a wall is not.
func (p *part) strut(at r3.Vector, q facingPair) bool {
	u, v := region.Across(p.normal[p.samples[q.sample].facet])
	best := math.Inf(1)
	for k := range rays / 2 {
		d := u.Mul(fan[k][0]).Add(v.Mul(fan[k][1]))
		a, _ := p.look(at, d)
		b, _ := p.look(at, d.Mul(-1))
		best = min(best, a+b)
	}
	return best < 2.5*q.mm
}

// group is a run of samples beside each other that break a limit.
type group struct {
	worst facingPair
	area  float64
}

// near joins the bad ones among the pairs, thinnest first, that lie within
// some thicknesses of the group's worst place.
func (p *part) near(pairs []facingPair, bad func(facingPair) bool) []group {
	var list []facingPair
	for _, q := range pairs {
		if bad(q) {
			list = append(list, q)
		}
	}
	if len(list) == 0 {
		return nil
	}
	// Samples hang together over shared vertices of their facets.
	root := map[int32]int32{}
	find := func(v int32) int32 {
		r, ok := root[v]
		if !ok {
			root[v] = v
			return v
		}
		for r != root[r] {
			root[r] = root[root[r]]
			r = root[r]
		}
		return r
	}
	join := func(a, b int32) {
		a, b = find(a), find(b)
		root[max(a, b)] = min(a, b)
	}
	for _, q := range list {
		s := &p.samples[q.sample]
		t := p.m.Facets[s.facet]
		join(t[0], t[1])
		join(t[1], t[2])
	}
	// Both sides of a wall belong together.
	for _, q := range list {
		s := &p.samples[q.sample]
		for _, g := range [2]int32{s.inFacet, s.outFacet} {
			if g < 0 || !oppositeWithin(s, g, q.mm) {
				continue
			}
			if _, bad := root[p.m.Facets[g][0]]; bad {
				join(p.m.Facets[s.facet][0], p.m.Facets[g][0])
			}
		}
	}
	index := map[int32]int{}
	var out []group
	for _, q := range list {
		s := &p.samples[q.sample]
		r := find(p.m.Facets[s.facet][0])
		i, ok := index[r]
		if !ok {
			i = len(out)
			index[r] = i
			out = append(out, group{worst: q})
		}
		out[i].area += s.area
	}
	return out
}

// oppositeWithin tells whether facet g is the one that the sample's measure was taken to.
func oppositeWithin(s *sample, g int32, mm float64) bool {
	return g == s.inFacet && s.in == mm || g == s.outFacet && s.out == mm
}

// alike tells findings of one severity whose sizes differ by less than 2 % once, with their count.
func alike(fs []finding.Finding) []finding.Finding {
	var out []finding.Finding
next:
	for _, f := range fs {
		for i := range out {
			o := &out[i]
			if o.Code == f.Code && o.Severity == f.Severity && math.Abs(o.SizeMM-f.SizeMM) < 0.02*o.SizeMM {
				o.Count += f.Count
				continue next
			}
		}
		out = append(out, f)
	}
	return counted(out)
}

// counted says of findings for how many more they stand.
func counted(fs []finding.Finding) []finding.Finding {
	for i := range fs {
		if n := fs[i].Count - 1; n > 0 {
			fs[i].Message += fmt.Sprintf("; and %d more like it", n)
		}
	}
	return fs
}

// mostFindings is how many findings of one rule are told one by one; the rest
// is summed up in the last.
const mostFindings = 12

func limited(fs []finding.Finding) []finding.Finding {
	if len(fs) <= mostFindings {
		return fs
	}
	last := fs[mostFindings-1]
	for _, f := range fs[mostFindings:] {
		last.Count += f.Count
	}
	last.Message += fmt.Sprintf("; and %d smaller or lesser ones", last.Count-1)
	return append(fs[:mostFindings-1:mostFindings-1], last)
}
