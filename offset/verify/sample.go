package verify

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/sample"
)

// maxPerFacet bounds the samples of one facet.
const maxPerFacet = 1 << 20

// inset is how far samples at corners and edges lie inside their facet, as a share of its size.
const inset = 1e-6

// place is a sample of a facet: its weights.
type place [3]float64

// onRim returns sample i of the 3*side samples along the edges, all a little inside the facet.
func onRim(i, side int) place {
	return onEdge(i/side, (float64(i%side)+0.5)/float64(side))
}

// onEdge is the place at the share t of the edge from corner k, a little inside the
// facet, where its own normal counts.
func onEdge(k int, t float64) place {
	var p place
	p[k], p[(k+1)%3], p[(k+2)%3] = (1-t)*(1-inset), t*(1-inset), inset
	return p
}

func (p place) of(a, b, c r3.Vector) r3.Vector {
	return a.Mul(p[0]).Add(b.Mul(p[1])).Add(c.Mul(p[2]))
}

// plan says how many samples each facet of m gets.
type plan struct {
	m     *mesh.Mesh
	start []int32 // of each facet's samples among all, len = facets + 1
}

// planFor gives every facet one sample and large ones more, by area.
func planFor(m *mesh.Mesh, samples int) *plan {
	p := &plan{m: m, start: make([]int32, len(m.Facets)+1)}
	total := m.Area()
	mesh.InChunks(len(m.Facets), 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			p.start[f+1] = 1
			if total > 0 {
				p.start[f+1] += int32(min(m.FacetArea(f)/total*float64(samples), maxPerFacet))
			}
		}
	})
	for f := range m.Facets {
		p.start[f+1] += p.start[f]
	}
	return p
}

// of returns the number of samples of facet f and, of those, the number along one edge.
// The first sample is the centroid.
func (p *plan) of(f int) (n, side int) {
	n = int(p.start[f+1] - p.start[f])
	if n >= 16 {
		side = int(math.Sqrt(float64(n)) / 2) // 3/2 sqrt(n) of n on the rim
	}
	return n, side
}

// at returns sample i of facet f and whether it stands for a part of the area; those on the rim do not.
func (p *plan) at(f, i int) (place, bool) {
	n, side := p.of(f)
	if r := i - (n - 3*side); r >= 0 {
		return onRim(r, side), false
	}
	return sample.Inside(i), true
}

// weight returns the area that each sample of facet f stands for, in mm2.
func (p *plan) weight(f int) float64 {
	n, side := p.of(f)
	return p.m.FacetArea(f) / float64(n-3*side)
}
