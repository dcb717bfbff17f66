// Package divide cuts facets by halving edges, so that a surface gets finer
// where it is asked to and stays closed and where it is.
package divide

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Edges returns m with the marked edges halved, an edge being marked by either
// of its half-edges. So that facets do not grow ever thinner, the longest edge
// of every facet that is cut is halved too (Rivara, Int. J. Numer. Meth. Eng. 20
// (1984) 745). All facets around an edge are cut alike, new vertices lie
// in the middle of edges, and the pieces of a facet follow each other in its
// place, in its plane. mid is the new vertex on each half-edge of m, or
// mesh.None; parent is the facet of m of each new one. The first vertices are
// those of m; Source and the file's attributes and solids are carried on. topo is m's; m is not changed.
func Edges(m *mesh.Mesh, topo *mesh.Topology, marked []bool) (out *mesh.Mesh, mid, parent []int32) {
	out = &mesh.Mesh{Vertices: append([]r3.Vector(nil), m.Vertices...)}
	mid = make([]int32, len(topo.Twin))
	for h := range mid {
		mid[h] = mesh.None
	}
	cut := func(h int32) {
		v := int32(len(out.Vertices))
		if mid[h] = v; topo.Twin[h] != mesh.None {
			mid[topo.Twin[h]] = v
		}
		out.Vertices = append(out.Vertices, m.Vertices[m.Origin(h)].Add(m.Vertices[m.Target(h)]).Mul(0.5))
	}
	var todo []int32 // facets with a halved edge
	enter := func(h int32) {
		if mid[h] != mesh.None {
			return
		}
		cut(h)
		todo = append(todo, h/3)
		if t := topo.Twin[h]; t != mesh.None {
			todo = append(todo, t/3)
		}
	}
	for h, yes := range marked {
		if yes {
			enter(int32(h))
		}
	}
	for len(todo) > 0 {
		f := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		enter(longest(m, f))
	}
	out.Facets, parent = Facets(out.Vertices, m.Facets, mid)
	out.Source = make([]int32, len(parent))
	for f, p := range parent {
		out.Source[f] = int32(m.SourceOf(int(p)))
	}
	out.CarryFile(m, parent)
	return out, mid, parent
}

// longest returns the longest edge of facet f, of equal ones the one that both facets
// beside it would choose: that of the lower vertex numbers.
func longest(m *mesh.Mesh, f int32) int32 {
	best, most := mesh.None, -1.0
	for k := range int32(3) {
		h := 3*f + k
		l := m.Vertices[m.Target(h)].Sub(m.Vertices[m.Origin(h)]).Norm2()
		if l > most || l == most && key(m, h) < key(m, best) {
			best, most = h, l
		}
	}
	return best
}

func key(m *mesh.Mesh, h int32) uint64 {
	i, j := m.Origin(h), m.Target(h)
	return uint64(min(i, j))<<32 | uint64(max(i, j))
}

// Facets replaces each facet by the one, two, three or four that the new
// vertices on its edges make of it; mid is the vertex on each half-edge, or
// mesh.None, the same for both of an edge. It returns the facet that each new one is a piece of.
func Facets(vertices []r3.Vector, old [][3]int32, mid []int32) (facets [][3]int32, parent []int32) {
	all := len(old)
	for _, v := range mid {
		if v != mesh.None {
			all++ // a facet has one piece more than halved edges
		}
	}
	facets, parent = make([][3]int32, 0, all), make([]int32, 0, all)
	for f, t := range old {
		add := func(a, b, d int32) {
			facets = append(facets, [3]int32{a, b, d})
			parent = append(parent, int32(f))
		}
		m := mid[3*f : 3*f+3]
		n := 0
		for _, v := range m {
			if v != mesh.None {
				n++
			}
		}
		k := 0 // turn the facet so that the templates fit
		switch n {
		case 1:
			for m[k] == mesh.None {
				k++
			}
		case 2: // the whole edge comes last
			for m[(k+2)%3] != mesh.None {
				k++
			}
		}
		a, b, d := t[k], t[(k+1)%3], t[(k+2)%3]
		ab, bd, da := m[k], m[(k+1)%3], m[(k+2)%3]
		switch n {
		case 0:
			add(a, b, d)
		case 1:
			add(a, ab, d)
			add(ab, b, d)
		case 2:
			add(ab, b, bd)
			// The quadrangle a ab bd d by its shorter diagonal.
			if vertices[a].Sub(vertices[bd]).Norm2() <= vertices[ab].Sub(vertices[d]).Norm2() {
				add(a, ab, bd)
				add(a, bd, d)
			} else {
				add(a, ab, d)
				add(ab, bd, d)
			}
		case 3:
			add(a, ab, da)
			add(ab, b, bd)
			add(bd, d, da)
			add(ab, bd, da)
		}
	}
	return facets, parent
}
