package arrange

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// verticesOf returns the vertices of the facets of the contacts that want says, ascending.
func (s *surface) verticesOf(cs []contact, want func(contact) bool) []int32 {
	var vs []int32
	for _, c := range cs {
		if want(c) {
			vs = append(vs, s.facets[c.a][:]...)
			vs = append(vs, s.facets[c.b][:]...)
		}
	}
	slices.Sort(vs)
	return slices.Compact(vs)
}

// around returns the facets with a corner among the vertices, ascending.
func (s *surface) around(vs []int32) []int32 {
	in := make(map[int32]bool, len(vs))
	for _, v := range vs {
		in[v] = true
	}
	var fs []int32
	for f, t := range s.facets {
		if in[t[0]] || in[t[1]] || in[t[2]] {
			fs = append(fs, int32(f))
		}
	}
	return fs
}

// nudge moves vertices outwards by between half and all of step, and by less
// than half of it in a direction of their own, so that what touched overlaps
// and what lay in one plane does not. Directions and amounts come from the
// vertex's name and the round alone. It returns the facets that changed.
func (s *surface) nudge(vs []int32, step float64, round int) []int32 {
	fs := s.around(vs)
	out := make(map[int32]r3.Vector, len(vs))
	for _, v := range vs {
		out[v] = r3.Vector{}
	}
	for _, f := range fs {
		n := s.areaNormal(f)
		t := s.facets[f]
		for k, v := range t {
			if sum, ok := out[v]; ok {
				u, w := s.at[t[(k+1)%3]].Sub(s.at[v]), s.at[t[(k+2)%3]].Sub(s.at[v])
				out[v] = sum.Add(n.Normalize().Mul(math.Atan2(u.Cross(w).Norm(), u.Dot(w))))
			}
		}
	}
	for _, v := range vs {
		r := mix(uint64(s.name[v])<<8 + uint64(round))
		part := func() float64 { // in [0, 1)
			r = mix(r)
			return float64(r>>11) * 0x1p-53
		}
		d := out[v].Normalize().Mul(0.5 + 0.5*part())
		d = d.Add(r3.Vector{X: part() - 0.5, Y: part() - 0.5, Z: part() - 0.5}.Mul(0.5))
		s.at[v] = snap(s.at[v].Add(d.Mul(step)))
		s.moved[v] = true
	}
	return fs
}

// fan calls see with every half-edge that starts at the origin of h.
func (s *surface) fan(h int32, see func(h int32)) {
	for g := h; ; {
		see(g)
		g = s.twin[mesh.Prev(g)]
		if g == h {
			return
		}
	}
}
