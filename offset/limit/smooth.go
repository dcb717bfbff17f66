package limit

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/disjoint"
	"skinstock/mesh/queue"
)

// smooth lowers the field around the lowered corners so that it rises no
// steeper than the slope along the edges of smooth surface: the corners are
// settled in the order of their values, least first (Dijkstra).
func (l *limiter) smooth(field mesh.CornerField, low []int32) {
	var q queue.Least
	for _, c := range low {
		q.Push(field[c/3][c%3], c)
	}
	lower := func(c int32, a float64) {
		if a < field[c/3][c%3] {
			field[c/3][c%3] = a
			q.Push(a, c)
		}
	}
	for len(q) > 0 {
		it := q.Pop()
		f, k := it.Number/3, int(it.Number%3)
		if it.Key > field[f][k] {
			continue
		}
		// Around the vertex, to the facets behind smooth edges; those pass it on.
		for _, h := range [2]int32{it.Number, mesh.Prev(it.Number)} {
			if t := l.topo.Twin[h]; t != mesh.None && l.flat(h/3, t/3) {
				v := l.m.Facets[f][k]
				for j, w := range l.m.Facets[t/3] {
					if w == v {
						lower(t/3*3+int32(j), it.Key)
					}
				}
			}
		}
		for j := 1; j < 3; j++ {
			o := (k + j) % 3
			d := l.m.Corner(int(f), k).Distance(l.m.Corner(int(f), o))
			lower(3*f+int32(o), it.Key+float64(l.opt.MaxSlope*d))
		}
	}
}

// flat tells whether the surface is smooth between two neighbours. A facet without area is part of what is beside it.
func (l *limiter) flat(f, g int32) bool {
	n, o := l.m.FacetNormal(int(f)), l.m.FacetNormal(int(g))
	return n == (r3.Vector{}) || o == (r3.Vector{}) || n.Dot(o) >= math.Cos(l.opt.FeatureAngle.Radians())
}

// report gathers what is missing into places.
func (l *limiter) report(r *Result) {
	gap := make(map[int32]float64) // least gap of a facet; only looked up
	for _, cs := range l.found {
		for _, c := range cs {
			if g, ok := gap[c.facet]; !ok || c.gap < g {
				gap[c.facet] = c.gap
			}
		}
	}
	patch := disjoint.Sparse{} // of vertices
	var lacking []int32
	for f, w := range l.wanted {
		lowered, worst := false, 0.0
		for k := range 3 {
			if missing := w[k] - r.Field[f][k]; missing > 0 {
				lowered = true
				worst = max(worst, missing)
			}
		}
		if lowered {
			r.Lowered++
		}
		if worst > Tolerance {
			lacking = append(lacking, int32(f))
			for _, v := range l.m.Facets[f][1:] {
				patch.Join(l.m.Facets[f][0], v)
			}
		}
	}
	number := make(map[int32]int)
	for _, f := range lacking {
		root := patch.Find(l.m.Facets[f][0])
		i, ok := number[root]
		if !ok {
			i = len(r.Places)
			number[root] = i
			r.Places = append(r.Places, Place{Gap: math.Inf(1)})
		}
		p := &r.Places[i]
		for k := range 3 {
			if missing := l.wanted[f][k] - r.Field[f][k]; missing > p.Missing {
				p.Missing, p.Wanted, p.At, p.Facet = missing, l.wanted[f][k], l.m.Corner(int(f), k), int(f)
			}
		}
		if d, ok := gap[f]; ok {
			p.Gap = min(p.Gap, d)
		}
		p.Facets++
		p.Area += l.m.FacetArea(int(f))
	}
	slices.SortStableFunc(r.Places, func(a, b Place) int {
		switch {
		case a.Missing > b.Missing:
			return -1
		case a.Missing < b.Missing:
			return 1
		}
		return 0
	})
}
