package arrange

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// measure finds the parts of the rest and what must be known of them.
func (n *near) measure(r *rest, in []bool, number []int32) error {
	m := n.m
	lo, hi := m.Bounds()
	r.middle = lo.Add(hi).Mul(0.5)
	r.locked = make([]bool, len(r.vertex))
	for f := range r.part {
		if r.part[f] = -1; !in[f] {
			r.part[f] = unseen
		}
	}
	alone := 0
	var queue []int32
	for f := range r.part {
		if r.part[f] != unseen {
			continue
		}
		p, edges := int32(len(r.largest)), len(r.edge)
		r.largest = append(r.largest, int32(f))
		r.part[f] = p
		queue = append(queue[:0], int32(f))
		for len(queue) > 0 {
			g := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			for _, t := range n.topo.Twin[3*g : 3*g+3] {
				switch r.part[t/3] {
				case unseen:
					r.part[t/3] = p
					queue = append(queue, t/3)
				case -1:
					v, w := number[m.Origin(t)], number[m.Target(t)]
					r.edge[[2]int32{v, w}] = p
					r.locked[v], r.locked[w] = true, true
				}
			}
		}
		if len(r.edge) == edges {
			if alone++; alone > nearShells {
				return errFar
			}
		}
	}
	r.sum()
	r.groups = make([]box, (len(r.part)+rayGroup-1)/rayGroup)
	mesh.InChunks(len(r.groups), n.opt.Workers, func(lo, hi int) {
		for g := lo; g < hi; g++ {
			b := emptyBox
			for f := g * rayGroup; f < min((g+1)*rayGroup, len(r.part)); f++ {
				if r.part[f] >= 0 {
					c := boxOf(m, int32(f))
					b.join(&c)
				}
			}
			r.groups[g] = b
		}
	})
	return nil
}

// unseen stands for the part of a facet of the rest before it is known.
const unseen = -2

// sum measures volumes, areas and largest facets of the parts.
func (r *rest) sum() {
	parts := len(r.largest)
	r.gone, r.cavity = make([]bool, parts), make([]bool, parts)
	r.volume, r.area, r.size = make([]float64, parts), make([]float64, parts), make([]float64, parts)
	for f, p := range r.part {
		if p < 0 {
			continue
		}
		a, b, c := r.m.Triangle(f)
		r.volume[p] += a.Sub(r.middle).Dot(b.Sub(r.middle).Cross(c.Sub(r.middle)))
		size := b.Sub(a).Cross(c.Sub(a)).Norm2()
		r.area[p] += 0.5 * math.Sqrt(size)
		if size > r.size[p] {
			r.size[p], r.largest[p] = size, int32(f)
		}
	}
}

// putBack returns the whole mesh with the resolved patch in the place of the
// one cut out, and makes the report one of the whole.
func (r *rest) putBack(patch *mesh.Mesh, rep *Report) *mesh.Mesh {
	m := r.m
	facets := len(patch.Facets)
	to := filled(len(m.Vertices))
	for f, p := range r.part {
		switch {
		case p < 0:
		case r.gone[p]:
			rep.FacetsRemoved++
			rep.CutFacets++
		default:
			facets++
			t := m.Facets[f]
			to[t[0]], to[t[1]], to[t[2]] = 0, 0, 0
		}
	}
	// The vertices of the whole that the patch has first keep their order among the others.
	first := 0
	for ; first < len(rep.Vertex); first++ {
		if v := rep.Vertex[first]; v < 0 || first > 0 && v <= rep.Vertex[first-1] {
			break
		}
		to[r.vertex[rep.Vertex[first]]] = 0
	}
	vertices := int32(0)
	for v, k := range to {
		if k == 0 {
			to[v] = vertices
			vertices++
		}
	}
	all := int(vertices) + len(patch.Vertices) - first
	out := &mesh.Mesh{Vertices: make([]r3.Vector, all, all+all/64), Facets: make([][3]int32, 0, facets)} // room for what is united with it next
	from, facet := make([]int32, all), make([]int32, 0, facets)
	for v, k := range to {
		if k >= 0 {
			out.Vertices[k], from[k] = m.Vertices[v], int32(v)
		}
	}
	place := make([]int32, len(patch.Vertices))
	for i, p := range patch.Vertices {
		v := rep.Vertex[i]
		if v >= 0 {
			v = r.vertex[v]
		}
		k := vertices + int32(i-first)
		if i < first {
			k = to[v]
		}
		place[i], out.Vertices[k], from[k] = k, p, v
	}
	next := 0
	for f, p := range r.part {
		if p >= 0 && !r.gone[p] {
			t := m.Facets[f]
			out.Facets, facet = append(out.Facets, [3]int32{to[t[0]], to[t[1]], to[t[2]]}), append(facet, int32(f))
		}
		for ; next < len(patch.Facets) && r.facet[rep.Facet[next]] == int32(f); next++ {
			t := patch.Facets[next]
			out.Facets, facet = append(out.Facets, [3]int32{place[t[0]], place[t[1]], place[t[2]]}), append(facet, int32(f))
		}
	}
	rep.Vertex, rep.Facet = from, facet
	carry(m, out, facet)
	return out
}
