package screen

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/sym3"
)

// seed is a place on the axis of what may be a round passage.
type seed struct {
	c, a    r3.Vector
	r       float64
	quality float64
	facet   int32
}

// fullness is the share of a circle that must be wall where a trace starts: the
// round end of an obround slot shows 0.66.
const fullness = 0.75

// seedKey groups samples whose rays have about the same middle and length.
type seedKey struct {
	level   int
	x, y, z int
}

func keyOf(c r3.Vector, r float64) seedKey {
	level := int(math.Floor(2 * math.Log2(r)))
	cell := 0.5 * math.Exp2(float64(level)/2)
	return seedKey{level, int(math.Floor(c.X / cell)), int(math.Floor(c.Y / cell)), int(math.Floor(c.Z / cell))}
}

// heads picks of the samples whose rays have about the same middle and length
// the one with the most area. ray returns how far ahead of a sample the middle
// lies, the length that counts, and whether the sample is one to pick from.
func (p *part) heads(ray func(s *sample) (ahead, length float64, ok bool)) []int32 {
	place := map[seedKey]int{} // in heads
	var heads []int32
	for i := range p.samples {
		s := &p.samples[i]
		ahead, length, ok := ray(s)
		if !ok || p.sliver(s.facet) {
			continue
		}
		k := keyOf(s.at.Add(p.normal[s.facet].Mul(ahead)), length)
		if h, ok := place[k]; !ok {
			place[k] = len(heads)
			heads = append(heads, int32(i))
		} else if s.area > p.samples[heads[h]].area {
			heads[h] = int32(i)
		}
	}
	return heads
}

// facing tells whether the ray from a sample meets a wall that faces it: the
// normals differ from opposite by less than acos(cosine).
func (p *part) facing(s *sample, cosine float64) bool {
	return s.outFacet >= 0 && p.normal[s.facet].Dot(p.normal[s.outFacet]) < -cosine
}

// seeds looks for places from which a round passage can be traced, best first.
func (p *part) seeds(ctx context.Context) ([]seed, error) {
	heads := p.heads(func(s *sample) (float64, float64, bool) {
		r := s.out / 2
		return r, r, !p.hollow[s.facet] && p.facing(s, 0.5) && !(r < 100*p.eps)
	})
	found := make([]seed, len(heads))
	err := p.each(ctx, len(heads), func(i int) { found[i] = p.try(&p.samples[heads[i]]) })
	if err != nil {
		return nil, err
	}
	found = slices.DeleteFunc(found, func(s seed) bool { return s.quality == 0 })
	slices.SortStableFunc(found, func(a, b seed) int {
		switch {
		case a.quality > b.quality:
			return -1
		case a.quality < b.quality:
			return 1
		}
		return int(a.facet) - int(b.facet)
	})
	return found, nil
}

// try looks for a round passage around the middle of a sample's ray; its
// quality is 0 when there is none.
func (p *part) try(s *sample) seed {
	n := p.normal[s.facet]
	r := s.out / 2
	c := s.at.Add(n.Mul(r))
	out := seed{facet: s.facet}
	check := func(a r3.Vector) {
		sec, ok := p.cut(c, a, r)
		if !ok || sec.walls < fullness-0.1 {
			return
		}
		a2 := sec.axis(a)
		if sec, ok = p.cut(sec.c, a2, sec.r); !ok || sec.walls < fullness || sec.rms > roundness {
			return
		}
		// Rounded so that equal bores start from their lowest facets.
		q := math.Round(100*(sec.walls-2*sec.rms)) / 100
		if q > out.quality {
			out = seed{c: sec.c, a: sec.axis(a2), r: sec.r, quality: q, facet: s.facet}
		}
	}
	if a, ok := p.axisNear(s.at, n, 0.8*r); ok {
		check(a)
	}
	if out.quality < 0.9 {
		if a, ok := p.axisAround(c, n, r); ok {
			check(a)
		}
	}
	return out
}

// axisNear returns the direction along which the normals near a place change
// least. It gives up where the ball holds many facets, for the other way does
// better there.
func (p *part) axisNear(at, n r3.Vector, r float64) (r3.Vector, bool) {
	const many = 96
	var s sym3.Matrix
	count, visited := 0, 0
	p.tree.VisitBall(at, r, func(f int) bool {
		visited++
		if d := p.normal[f].Dot(n); d > 0.3 {
			s.Add(p.normal[f], p.area[f])
			count++
		}
		return count < many && visited < 8*many
	})
	if count >= many || visited >= 8*many {
		return r3.Vector{}, false
	}
	val, vec := s.Eigen()
	return vec[2], val[1] > 1e-3*val[0] && val[2] < 0.3*val[1]
}

// sphere holds directions all about, on a spiral of equal areas.
var sphere = func() (d [28]r3.Vector) {
	golden := math.Pi * (3 - math.Sqrt(5))
	for i := range d {
		z := 1 - 2*(float64(i)+0.5)/float64(len(d))
		s, c := math.Sincos(golden * float64(i))
		q := math.Sqrt(1 - z*z)
		d[i] = r3.Vector{X: q * c, Y: q * s, Z: z}
	}
	return d
}()

// axisAround returns the direction across n that most walls around c run along.
func (p *part) axisAround(c, n r3.Vector, r float64) (r3.Vector, bool) {
	var ns [len(sphere)]r3.Vector
	m := 0
	for _, d := range sphere {
		h, ok := p.tree.Ray(c, d, 0, 3*r)
		if !ok {
			continue
		}
		if h.Side > 0 {
			return r3.Vector{}, false
		}
		ns[m] = p.normal[h.Facet]
		m++
	}
	if m < 8 {
		return r3.Vector{}, false
	}
	var best r3.Vector
	most := 0
	for i := range m {
		a := n.Cross(ns[i])
		if l := a.Norm(); l > 0.3 {
			a = a.Mul(1 / l)
			votes := 0
			for j := range m {
				if math.Abs(a.Dot(ns[j])) < 0.17 {
					votes++
				}
			}
			if votes > most {
				best, most = a, votes
			}
		}
	}
	return best, most >= 6
}
