package arrange

import (
	"cmp"
	"slices"

	"skinstock/mesh"
)

// finish makes the mesh and completes the report.
func (r *resolver) finish(m *mesh.Mesh) *mesh.Mesh {
	s := r.s
	r.report.ShellsOut = s.shells().n
	s.sortFacets()
	to := make([]int32, len(s.at))
	for i := range to {
		to[i] = mesh.None
	}
	for _, t := range s.facets {
		for _, v := range t {
			to[v] = 0
		}
	}
	out := &mesh.Mesh{}
	rep := r.report
	for v, u := range to {
		if u == mesh.None {
			continue
		}
		to[v] = int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, s.at[v])
		rep.Vertex = append(rep.Vertex, s.vertex[v])
		if src := s.vertex[v]; src == mesh.None {
			rep.VerticesAdded++
		} else if s.moved[v] {
			rep.VerticesMoved++
			rep.MaxMoveMM = max(rep.MaxMoveMM, s.at[v].Sub(m.Vertices[src]).Norm())
		}
	}
	for _, t := range s.facets {
		out.Facets = append(out.Facets, [3]int32{to[t[0]], to[t[1]], to[t[2]]})
	}
	rep.Facet = s.facet
	r.countPieces(m, out)
	carry(m, out, rep.Facet)
	return out
}

// sortFacets puts pieces back into the place of their facet: link adds some at the end.
func (s *surface) sortFacets() {
	order := make([]int, len(s.facets))
	for i := range order {
		order[i] = i
	}
	if slices.IsSorted(s.facet) {
		return
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(s.facet[a], s.facet[b]) })
	facets, facet := make([][3]int32, len(order)), make([]int32, len(order))
	for i, f := range order {
		facets[i], facet[i] = s.facets[f], s.facet[f]
	}
	s.facets, s.facet, s.twin = facets, facet, nil
}

// countPieces compares the facets of the output with those of the input.
func (r *resolver) countPieces(m, out *mesh.Mesh) {
	rep := r.report
	left := make([]int32, len(m.Facets)) // facets of the output per facet of the input
	whole := make([]bool, len(m.Facets))
	for f, p := range rep.Facet {
		left[p]++
		same := 0
		for k := range 3 {
			for j := range 3 {
				if rep.Vertex[out.Facets[f][k]] == m.Facets[p][j] {
					same++
				}
			}
		}
		whole[p] = same == 3
	}
	for p, n := range left {
		switch {
		case n == 0:
			rep.FacetsRemoved++
			rep.CutFacets++
		case n > 1 || !whole[p]:
			rep.CutFacets++
			rep.FacetsAdded += int(n)
		}
	}
}

// carry brings sources, attributes and solids over. Facets keep their order,
// so a solid stays one run.
func carry(m, out *mesh.Mesh, facet []int32) {
	out.Source = make([]int32, len(facet))
	for f, p := range facet {
		out.Source[f] = int32(m.SourceOf(int(p)))
	}
	out.CarryFile(m, facet)
}
