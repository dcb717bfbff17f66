package mesh

import (
	"math"

	"skinstock/mesh/disjoint"
)

// dropMembranes leaves out sheets that lie inside the metal. At the rim of
// such a sheet three facets meet: going around the edge, metal begins at one of
// them and ends at the other two, or the other way round, and the facet between
// has metal on both sides. A patch of facets that is such a facet all along its
// rim parts metal from metal, for example the cap of a rod against which a
// second rod was drawn without a cap of its own. Without it the surface closes,
// and no metal is lost.
func (b *builder) dropMembranes() {
	if b.topo.NonManifoldEdges == 0 {
		return
	}
	m, twin := b.m, b.topo.Twin
	between := make([]bool, len(twin))
	found := false
	m.eachEdge(func(e []edgeRef) {
		if len(e) == 3 {
			if h := m.middleOfThree(e); h != None {
				between[h] = true
				found = true
			}
		}
	})
	if !found {
		return
	}
	patch := disjoint.New(len(m.Facets))
	for h, t := range twin {
		if t != None {
			patch.Join(int32(h)/3, t/3)
		}
	}
	rim, whole := make([]bool, len(m.Facets)), make([]bool, len(m.Facets))
	for f := range whole {
		whole[f] = true
	}
	for h, t := range twin {
		if t == None {
			r := patch.Find(int32(h) / 3)
			rim[r] = true
			whole[r] = whole[r] && between[h]
		}
	}
	drop, n := make([]bool, len(m.Facets)), 0
	for f := range drop {
		if r := patch.Find(int32(f)); rim[r] && whole[r] {
			b.rep.note(MendInnerWall, 1, m.Centroid(f), 0)
			drop[f] = true
			n++
		}
	}
	if n > 0 {
		b.keep(drop)
		b.topo = m.Topology()
	}
}

// sameAngle is the angle, rad, below which the order of two facets around an
// edge is not to be trusted: float32 corners on an edge of some hundred times
// their rounding give about this.
const sameAngle = 1e-3

// middleOfThree returns the half-edge among three that has metal on both
// sides, or None when the three do not bound metal in that way.
func (m *Mesh) middleOfThree(e []edgeRef) int32 {
	spokes := m.spokes(e)
	back := 0
	for _, s := range spokes {
		if s.e.backward() {
			back++
		}
	}
	for i, s := range spokes {
		next, last := spokes[(i+1)%3], spokes[(i+2)%3]
		switch {
		case back == 1 && s.e.backward() && apart(next.angle, last.angle) && apart(s.angle, next.angle):
			return next.e.half() // metal begins at s, ends at next, and again at last
		case back == 2 && !s.e.backward() && apart(next.angle, last.angle) && apart(last.angle, s.angle):
			return last.e.half() // metal begins at next, again at last, and ends at s
		}
	}
	return None
}

// apart tells whether two angles around an edge differ enough to be ordered.
func apart(a, b float64) bool {
	d := math.Abs(math.Remainder(a-b, 2*math.Pi))
	return d > sameAngle
}
