package arrange

import "skinstock/mesh"

// build returns the surface of the region of winding number 1 or more: the
// whole facets and pieces with winding number 0 in front, cut points rounded.
func (c *cutting) build(subs []subFacet, front []int32) (*surface, error) {
	s := c.s
	nf := int32(len(s.facets))
	out := &surface{rest: s.rest, named: s.named + int32(len(c.points)-len(s.at))}
	used := make([]bool, len(c.points))
	next := 0 // pieces come in the order of their facets
	add := func(t [3]int32, parent int32) {
		for _, v := range t {
			used[v] = true
		}
		out.facets = append(out.facets, t)
		out.facet = append(out.facet, s.facet[parent])
	}
	for f := range nf {
		if c.index[f] < 0 {
			if front[f] == 0 {
				add(s.facets[f], f)
			}
			continue
		}
		for ; next < len(subs) && subs[next].parent == f; next++ {
			if front[nf+int32(next)] == 0 {
				add(subs[next].v, f)
			}
		}
	}
	for p := range s.rest.parts() {
		if front[int(nf)+len(subs)+p] != 0 {
			s.rest.gone[p] = true
		}
	}
	to := make([]int32, len(used))
	for i, u := range used {
		if !u {
			continue
		}
		to[i] = int32(len(out.at))
		if i < len(s.at) {
			out.at = append(out.at, s.at[i])
			out.vertex = append(out.vertex, s.vertex[i])
			out.moved = append(out.moved, s.moved[i])
			out.name = append(out.name, s.name[i])
			continue
		}
		out.at = append(out.at, snap(c.points[i].vector()))
		out.vertex = append(out.vertex, mesh.None)
		out.moved = append(out.moved, false)
		out.name = append(out.name, s.named+int32(i-len(s.at)))
	}
	for f := range out.facets {
		for k, v := range out.facets[f] {
			out.facets[f][k] = to[v]
		}
	}
	return out, out.link()
}

// compact takes out dead facets and unused vertices.
func (s *surface) compact() error {
	out := &surface{rest: s.rest, named: s.named}
	to := make([]int32, len(s.at))
	for i := range to {
		to[i] = mesh.None
	}
	for f, t := range s.facets {
		if !s.alive(int32(f)) {
			continue
		}
		for _, v := range t {
			to[v] = 0
		}
	}
	for v, u := range to {
		if u == mesh.None {
			continue
		}
		to[v] = int32(len(out.at))
		out.at = append(out.at, s.at[v])
		out.vertex = append(out.vertex, s.vertex[v])
		out.moved = append(out.moved, s.moved[v])
		out.name = append(out.name, s.name[v])
	}
	for f, t := range s.facets {
		if s.alive(int32(f)) {
			out.facets = append(out.facets, [3]int32{to[t[0]], to[t[1]], to[t[2]]})
			out.facet = append(out.facet, s.facet[f])
		}
	}
	*s = *out
	return s.link()
}
