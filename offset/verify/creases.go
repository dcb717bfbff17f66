package verify

import (
	"math"

	"skinstock/mesh"
)

// even is how far from flat in mm two facets still count as flat: coordinates are not finer.
const even = 1e-5

// creases marks half-edges of a mesh, three bits a facet.
type creases []uint8

func (c creases) has(f, k int) bool { return c[f]>>k&1 != 0 }

func (c creases) mark(f, k int) { c[f] |= 1 << k }

// toldOf tells whether the edge of facet f of the grown surface from corner k is
// asked there, and not on the facet beside it, whose half-edge is returned, mesh.None for none.
func (s *grownSamples) toldOf(f, k int) (twinned int32, ok bool) {
	t := twin(s.grown, s.corners, f, k)
	return t, t < 0 || int(t) > 3*f+k || s.dry != nil && s.dry[t/3]
}

// valley tells whether facet f of the grown surface may come nearest to what lies inside
// along its edge from corner k: the facets beside a ridge come nearer than the ridge
// does. The edge is told of on one of its facets.
func (s *grownSamples) valley(f, k int) bool {
	t, ok := s.toldOf(f, k)
	if !ok || t < 0 {
		return ok
	}
	up, _ := bends(s.grown, f, k, t)
	return up
}

// ridges marks the edges of the nominal mesh, on both facets, along which it may come
// nearest, for the stock called for, to what lies outside: where the surface falls
// away or the allowance does. uneven marks those where the foot of a place over one
// facet may lie on the other, which calls for much less.
func ridges(m *mesh.Mesh, in *mesh.Incidence, wanted mesh.CornerField, workers int) (ridges, uneven creases) {
	ridges, uneven = make(creases, len(m.Facets)), make(creases, len(m.Facets))
	mesh.InChunks(len(m.Facets), workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			for k := range 3 {
				t := twin(m, in, f, k)
				if t < 0 || step(m, wanted, f, k, t) {
					ridges.mark(f, k)
					uneven.mark(f, k)
					continue
				}
				up, down := bends(m, f, k, t)
				if up && strays(m, wanted, f, k, t) > sag {
					ridges.mark(f, k)
					uneven.mark(f, k)
				} else if down || crest(m, wanted, f, k, t) > sag {
					ridges.mark(f, k)
				}
			}
		}
	})
	return ridges, uneven
}

// step tells whether the allowance differs between the facets beside an edge, on it.
func step(m *mesh.Mesh, wanted mesh.CornerField, f, k int, twin int32) bool {
	g, l := int(twin/3), int(twin%3)
	return wanted[f][k] != wanted[g][(l+1)%3] || wanted[f][(k+1)%3] != wanted[g][l]
}

// strays is by how much the allowances at the feet of one place on both sides of a
// fold can differ, mm: they lie up to half the allowance times the bend from the edge.
func strays(m *mesh.Mesh, wanted mesh.CornerField, f, k int, twin int32) float64 {
	p, _ := rise(m, wanted, f, k)
	q, _ := rise(m, wanted, int(twin/3), int(twin%3))
	if p == 0 && q == 0 {
		return 0
	}
	bend := m.FacetNormal(f).Cross(m.FacetNormal(int(twin / 3))).Norm()
	return (math.Abs(p) + math.Abs(q)) / 2 * bend * max(wanted[f][k], wanted[f][(k+1)%3])
}

// crest is by how much the allowance on an edge can exceed that of a straight line over it, mm.
func crest(m *mesh.Mesh, wanted mesh.CornerField, f, k int, twin int32) float64 {
	p, a := rise(m, wanted, f, k)
	q, b := rise(m, wanted, int(twin/3), int(twin%3))
	return -(p + q) / 4 * max(a, b)
}

// rise returns how much the allowance grows on facet f straight away from its edge
// from corner k, mm a mm, and how high the facet stands on the edge, mm.
func rise(m *mesh.Mesh, wanted mesh.CornerField, f, k int) (rise, high float64) {
	w := wanted[f]
	if w[0] == w[1] && w[1] == w[2] {
		return 0, 0
	}
	l, o := (k+1)%3, (k+2)%3
	p := m.Corner(f, k)
	u, v := m.Corner(f, l).Sub(p), m.Corner(f, o).Sub(p)
	r := v.Dot(u) / u.Norm2()
	high = v.Sub(u.Mul(r)).Norm()
	return (w[o] - (1-r)*w[k] - r*w[l]) / high, high
}

// twin returns the half-edge that runs the other way along that of facet f from
// corner k, or mesh.None when there is not just one; in is of m.
func twin(m *mesh.Mesh, in *mesh.Incidence, f, k int) int32 {
	v, u := m.Facets[f][k], m.Facets[f][(k+1)%3]
	found := mesh.None
	for _, c := range in.Of(u) {
		if m.Target(c) == v {
			if found >= 0 {
				return mesh.None
			}
			found = c
		}
	}
	return found
}

// bends tells whether the facet of half-edge twin rises before facet f, along whose
// half-edge from corner k it lies, and whether it falls away; neither where that is by
// no more than coordinates are rounded, both where the facets, as slivers, disagree or
// one has no plane.
func bends(m *mesh.Mesh, f, k int, twin int32) (up, down bool) {
	for _, h := range [2][2]int32{{int32(3*f + k), twin}, {twin, int32(3*f + k)}} {
		n := m.AreaNormal(int(h[0] / 3))
		x, size := m.Vertices[m.Origin(mesh.Prev(h[1]))].Sub(m.Vertices[m.Origin(h[0])]).Dot(n), n.Norm()
		up, down = up || x > even*size || size == 0, down || x < -even*size || size == 0
	}
	return up, down
}
