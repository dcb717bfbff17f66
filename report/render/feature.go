package render

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/disjoint"
)

// Opposite kinks make a zigzag when they are between these shares of the box's
// diagonal apart: one is about two pixels of a picture, the other noise of the
// coarsest voxels that are used.
const (
	zigzagFine = 1. / 250
	zigzagNear = 1. / 30
)

// featureEdges returns open edges and edges sharper than the limit. Three
// things keep the noise of voxel-born meshes out: an edge counts only when the
// surface a few facets wide on either side makes the angle too, zigzags are
// taken out, and groups shorter than the least length are left out.
func featureEdges(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, flat []r3.Vector, lim float64, opt ModelOptions) ([][2]int32, error) {
	sharp := make([]bool, len(topo.Twin))
	err := chunks(ctx, len(sharp), opt.Workers, func(lo, hi int) {
		for h := lo; h < hi; h++ {
			if t := topo.Twin[h]; t != mesh.None {
				sharp[h] = bends(flat[h/3], flat[t/3], lim)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	blo, bhi := m.Bounds()
	diagonal := bhi.Sub(blo).Norm()
	draw := make([]bool, len(sharp)) // by the lower half-edge of an edge
	err = chunks(ctx, len(sharp), opt.Workers, func(lo, hi int) {
		var p patch
		for h := lo; h < hi; h++ {
			switch t := topo.Twin[h]; {
			case t == mesh.None:
				draw[h] = true
			case int(t) > h && sharp[h]:
				long := m.Vertices[m.Origin(t)].Distance(m.Vertices[m.Target(t)])
				least := narrow * diagonal * long
				a := p.normal(topo, flat, sharp, int32(h)/3, t/3, least)
				b := p.normal(topo, flat, sharp, t/3, int32(h)/3, least)
				draw[h] = bends(a, b, lim)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	var edges [][2]int32
	for h := range draw {
		if draw[h] {
			edges = append(edges, [2]int32{m.Origin(int32(h)), m.Target(int32(h))})
		}
	}
	least := opt.MinFeatureMM
	if least == 0 {
		least = diagonal / 16
	}
	return longGroups(m, withoutZigzags(m, edges, diagonal*zigzagFine, diagonal*zigzagNear), least), nil
}

// bends tells whether two normals of any length make more than the angle whose
// cosine is given. A facet of no area has no direction and makes no feature.
func bends(a, b r3.Vector, lim float64) bool {
	p := a.Norm() * b.Norm()
	return p > 0 && a.Dot(b) < lim*p
}

// patchFacets is the size of the patches whose normals are compared: some
// facets, so that a sliver does not speak for the surface beside it.
const patchFacets = 40

// narrow is the width of a patch, as a share of the box's diagonal, below
// which it cannot be seen and what lies behind it counts with it: a sliver, but
// also a small chamfer.
const narrow = 0.005

// patch gathers the facets around one.
type patch struct{ facets []int32 }

// normal returns the sum of the area normals of a patch: of a facet and those
// around it, without crossing a sharp edge unless the patch would be narrow,
// and never over to the facet on the other side.
func (p *patch) normal(topo *mesh.Topology, flat []r3.Vector, sharp []bool, f, other int32, least float64) r3.Vector {
	p.facets = append(p.facets[:0], f)
	sum := flat[f]
	for _, over := range [...]bool{false, true} {
		if over && sum.Norm() >= 2*least { // flat is twice the area
			break
		}
		for i := 0; i < len(p.facets) && len(p.facets) < patchFacets; i++ {
			for k := range int32(3) {
				h := 3*p.facets[i] + k
				t := topo.Twin[h]
				if t == mesh.None || (sharp[h] && !over) || t/3 == other || p.has(t/3) {
					continue
				}
				p.facets = append(p.facets, t/3)
				sum = sum.Add(flat[t/3])
			}
		}
	}
	return sum
}

func (p *patch) has(f int32) bool {
	for _, g := range p.facets {
		if g == f {
			return true
		}
	}
	return false
}

// longGroups keeps the edges whose connected group has at least the given
// length. Closed groups, such as the rim of a bore, are kept from a sixth of it:
// noise leaves loose ends.
func longGroups(m *mesh.Mesh, edges [][2]int32, least float64) [][2]int32 {
	groups := disjoint.New(len(m.Vertices))
	for _, e := range edges {
		groups.Join(e[0], e[1])
	}
	length := make([]float64, len(m.Vertices))
	degree := make([]int32, len(m.Vertices))
	for _, e := range edges {
		length[groups.Find(e[0])] += m.Vertices[e[0]].Distance(m.Vertices[e[1]])
		degree[e[0]]++
		degree[e[1]]++
	}
	loose := make([]bool, len(m.Vertices))
	for v, d := range degree {
		if d == 1 {
			loose[groups.Find(int32(v))] = true
		}
	}
	kept := edges[:0]
	for _, e := range edges {
		g := groups.Find(e[0])
		if length[g] >= least || (!loose[g] && length[g] >= least/6) {
			kept = append(kept, e)
		}
	}
	return kept
}
