package field

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
)

// piece is a flat part of a panel: a facet of the part, or a bit cut from one.
type piece struct {
	a, b, c r3.Vector
	facet   int32 // of the part, or -1 on a wall
}

func (p *piece) areaVector() r3.Vector { return p.b.Sub(p.a).Cross(p.c.Sub(p.a)).Mul(0.5) }

func (p *piece) centroid() r3.Vector { return p.a.Add(p.b).Add(p.c).Mul(1. / 3) }

// source is a point that stands for a bit of a panel's area seen from some
// distance: weight in mm2, and the same times the normal.
type source struct {
	at     r3.Vector
	weight float64
	dipole r3.Vector
}

// panel is a patch of surface on which the flux is taken as constant.
type panel struct {
	pieces []piece
	at     r3.Vector // a point of the surface near its middle
	tests  []check   // the places over which the equation is met in the mean; weights add up to 1
	mid    r3.Vector // their mean
	area   float64
	radius float64 // greatest distance from at to a corner
	charge float64 // share of the unknown that is flux: 1, or 0 where the panel is insulated
	length float64 // polarisation length, mm; of an insulated panel the scale of its unknown
	goal   float64 // right-hand side: the potential to be met
	wall   int32   // -1 on the part, else the number of the wall
	patch  int32   // number of the patch on the part
	points []source
}

// newPanel gathers pieces to a panel; pieces of no area are kept for the
// facet they stand for, and a panel of no area at all is refused.
func newPanel(pieces []piece) (panel, bool) {
	p := panel{pieces: pieces, wall: -1, charge: 1}
	var mid r3.Vector
	for i := range pieces {
		a := pieces[i].areaVector().Norm()
		p.area += a
		mid = mid.Add(pieces[i].centroid().Mul(a))
	}
	if p.area <= 0 {
		return p, false
	}
	mid = mid.Mul(1 / p.area)
	p.at = pieces[0].centroid()
	p.tests = []check{{p.at, 1, 0}}
	if len(pieces) > 1 {
		var own int
		p.at, own = innerPoint(pieces, mid, p.area)
		p.tests = []check{{p.at, 1, own}}
		if !flat(pieces, p.area) {
			p.tests = middles(pieces, mostTests)
		}
	}
	for _, t := range p.tests {
		p.mid = p.mid.Add(t.at.Mul(t.weight))
	}
	for i := range pieces {
		for _, v := range []r3.Vector{pieces[i].a, pieces[i].b, pieces[i].c} {
			p.radius = max(p.radius, v.Sub(p.at).Norm())
		}
	}
	p.points = sources(pieces)
	return p, true
}

// mostTests bounds the places over which a panel of many pieces meets its
// equation. One place alone would make the flux of a bent or rough panel depend
// on whether it sits on a ridge or in a groove.
const mostTests = 5

// flatFrom is the length of the area vector over the area from which a panel
// counts as flat: normals within about 10 degrees.
const flatFrom = 0.985

func flat(pieces []piece, area float64) bool {
	var v r3.Vector
	for i := range pieces {
		v = v.Add(pieces[i].areaVector())
	}
	return v.Norm() > flatFrom*area
}

// innerPoint returns a point inside one of the pieces, near the middle of them
// all, and the piece; slivers are passed over, since their normals say little.
func innerPoint(pieces []piece, mid r3.Vector, area float64) (r3.Vector, int) {
	best, own, at := -1.0, 0, r3.Vector{}
	least := 0.05 * area / float64(len(pieces))
	for i := range pieces {
		if pieces[i].areaVector().Norm() < least {
			continue
		}
		// A tenth of the way to the piece's own middle keeps off its border.
		q := bvh.ClosestOnTriangle(mid, pieces[i].a, pieces[i].b, pieces[i].c).Mul(0.9).Add(pieces[i].centroid().Mul(0.1))
		if d := q.Sub(mid).Norm2(); best < 0 || d < best {
			best, own, at = d, i, q
		}
	}
	return at, own
}

// check is a place on a panel, its share of the panel's area and its piece.
type check struct {
	at     r3.Vector
	weight float64
	piece  int
}

// middles returns up to most places spread over the pieces: the pieces are
// halved along their longest extent, and each group stands at the middle of its
// largest piece.
func middles(pieces []piece, most int) []check {
	type part struct {
		at    r3.Vector
		area  float64
		index int
	}
	ps := make([]part, 0, len(pieces))
	var whole float64
	for i := range pieces {
		if a := pieces[i].areaVector().Norm(); a > 0 {
			ps = append(ps, part{pieces[i].centroid(), a, i})
			whole += a
		}
	}
	var out []check
	var split func(s []part, most int)
	split = func(s []part, most int) {
		if most > 1 && len(s) > 1 {
			h := halve(len(s), func(i int) r3.Vector { return s[i].at }, func(i, j int) { s[i], s[j] = s[j], s[i] })
			split(s[:h], most/2)
			split(s[h:], most-most/2)
			return
		}
		best, sum := 0, 0.0
		for i := range s {
			sum += s[i].area
			if s[i].area > s[best].area || s[i].area == s[best].area && s[i].index < s[best].index {
				best = i
			}
		}
		out = append(out, check{s[best].at, sum / whole, s[best].index})
	}
	split(ps, most)
	return out
}

// sources picks the points that stand for the pieces: seven each while they are
// few, three each for some, and for many the middles, gathered to a dozen or so.
func sources(pieces []piece) []source {
	rule := rule7
	switch {
	case len(pieces) > 12:
		return lumps(pieces)
	case len(pieces) > 2:
		rule = rule3
	}
	out := make([]source, 0, len(pieces)*len(rule))
	for i := range pieces {
		v := pieces[i].areaVector()
		a := v.Norm()
		if a == 0 {
			continue
		}
		for _, n := range rule {
			out = append(out, source{n.at(pieces[i].a, pieces[i].b, pieces[i].c), a * n.weight, v.Mul(n.weight)})
		}
	}
	return out
}

// lumps halves the pieces' middles along their longest extent until every lump
// has a sixteenth of the whole, and puts a source at each lump's centre.
func lumps(pieces []piece) []source {
	ps := make([]source, 0, len(pieces))
	for i := range pieces {
		if v := pieces[i].areaVector(); v != (r3.Vector{}) {
			ps = append(ps, source{pieces[i].centroid(), v.Norm(), v})
		}
	}
	var out []source
	var split func(s []source, depth int)
	split = func(s []source, depth int) {
		if len(s) == 0 {
			return
		}
		if depth == 0 || len(s) == 1 {
			var l source
			for _, q := range s {
				l.weight += q.weight
				l.dipole = l.dipole.Add(q.dipole)
				l.at = l.at.Add(q.at.Mul(q.weight))
			}
			l.at = l.at.Mul(1 / l.weight)
			out = append(out, l)
			return
		}
		h := halve(len(s), func(i int) r3.Vector { return s[i].at }, func(i, j int) { s[i], s[j] = s[j], s[i] })
		split(s[:h], depth-1)
		split(s[h:], depth-1)
	}
	split(ps, 4)
	return out
}
