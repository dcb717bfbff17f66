package arrange

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// link splits the facets into sheets on which every edge has two facets and
// every vertex one fan: vertices that fans share are doubled, edges that more
// than two facets share are told apart by the angle around the edge. Any such
// pairing encloses the same metal.
func (s *surface) link() error {
	m := &mesh.Mesh{Vertices: s.at, Facets: s.facets}
	topo := m.Topology()
	s.twin = topo.Twin
	if topo.WrongWayEdges > 0 || topo.OpenEdges != s.openEdges() {
		return notClosed(m, topo)
	}
	var paired []int32
	if topo.NonManifoldEdges > 0 {
		var err error
		if paired, err = s.pairByAngle(); err != nil {
			return err
		}
	}
	s.splitFans()
	s.splitTwiceUsedEdges(paired)
	return nil
}

func notClosed(m *mesh.Mesh, topo *mesh.Topology) error {
	e := &NotClosedError{OpenEdges: topo.OpenEdges, WrongWayEdges: topo.WrongWayEdges}
	for h, t := range topo.Twin {
		if t == mesh.None {
			e.At = m.Vertices[m.Origin(int32(h))]
			break
		}
	}
	return e
}

// NotClosedError says that the input is no closed, consistently wound surface.
type NotClosedError struct {
	OpenEdges, WrongWayEdges int
	At                       r3.Vector // one place, mm
}

func (e *NotClosedError) Error() string {
	return fmt.Sprintf("the surface is not closed and consistently wound near (%.3f, %.3f, %.3f) mm: %d open edges, %d wound the wrong way; mend it first",
		e.At.X, e.At.Y, e.At.Z, e.OpenEdges, e.WrongWayEdges)
}

// pairByAngle pairs the half-edges of edges with more than two facets: going
// around the edge through metal from one facet, the next facet is its partner.
// It returns these half-edges.
func (s *surface) pairByAngle() ([]int32, error) {
	var open []int32
	for h, t := range s.twin {
		if t == mesh.None && s.beyond(int32(h)) < 0 {
			open = append(open, int32(h))
		}
	}
	ends := func(h int32) (lo, hi int32) {
		u, v := s.origin(h), s.target(h)
		return min(u, v), max(u, v)
	}
	slices.SortFunc(open, func(g, h int32) int {
		gl, gh := ends(g)
		hl, hh := ends(h)
		return cmp.Or(cmp.Compare(gl, hl), cmp.Compare(gh, hh), cmp.Compare(g, h))
	})
	for i := 0; i < len(open); {
		l, h := ends(open[i])
		j := i + 1
		for ; j < len(open); j++ {
			if l2, h2 := ends(open[j]); l2 != l || h2 != h {
				break
			}
		}
		if err := s.pairGroup(open[i:j]); err != nil {
			return nil, err
		}
		i = j
	}
	return open, nil
}

type spoke struct {
	h     int32
	angle float64
	up    bool // runs from the lesser vertex to the greater
}

// pairGroup pairs the half-edges of one edge.
func (s *surface) pairGroup(group []int32) error {
	h0 := group[0]
	u, v := s.at[min(s.origin(h0), s.target(h0))], s.at[max(s.origin(h0), s.target(h0))]
	x := v.Sub(u).Normalize()
	e1 := x.Ortho()
	e2 := x.Cross(e1)
	spokes := make([]spoke, len(group))
	up := 0
	for i, h := range group {
		w := s.at[s.origin(mesh.Prev(h))].Sub(u)
		spokes[i] = spoke{h, math.Atan2(w.Dot(e2), w.Dot(e1)), s.origin(h) < s.target(h)}
		if spokes[i].up {
			up++
		}
	}
	if 2*up != len(group) {
		return &NotClosedError{WrongWayEdges: 1, At: u}
	}
	// Counterclockwise around x the front of an upward facet follows it, so
	// metal lies between a downward facet and the upward one after it.
	slices.SortStableFunc(spokes, func(a, b spoke) int { return cmp.Compare(a.angle, b.angle) })
	var waiting []int32
	for i := 0; i < 2*len(spokes); i++ {
		sp := spokes[i%len(spokes)]
		switch {
		case s.twin[sp.h] != mesh.None || slices.Contains(waiting, sp.h):
		case !sp.up:
			waiting = append(waiting, sp.h)
		case len(waiting) > 0:
			g := waiting[len(waiting)-1]
			waiting = waiting[:len(waiting)-1]
			s.twin[g], s.twin[sp.h] = sp.h, g
		}
	}
	return nil
}

// splitFans gives every fan of facets around a vertex a vertex of its own.
func (s *surface) splitFans() {
	s.doubled = s.doubled[:0]
	seen := make([]bool, 3*len(s.facets))
	taken := make([]bool, len(s.at))
	for h := range seen {
		if seen[h] {
			continue
		}
		v := s.origin(int32(h))
		if s.locked(v) {
			continue // its fan goes on in the rest
		}
		w := v
		if taken[v] {
			w = s.addVertex(s.at[v], s.vertex[v])
			s.doubled = append(s.doubled, v, w)
		} else {
			taken[v] = true
		}
		for g := int32(h); !seen[g]; g = s.twin[mesh.Prev(g)] {
			seen[g] = true
			s.facets[g/3][g%3] = w
		}
	}
}

func (s *surface) addVertex(p r3.Vector, source int32) int32 {
	s.at = append(s.at, p)
	s.vertex = append(s.vertex, source)
	s.moved = append(s.moved, false)
	s.name = append(s.name, s.named)
	s.named++
	return int32(len(s.at) - 1)
}

// splitTwiceUsedEdges puts a vertex in the middle of an edge whose two ends are
// joined by another edge of the same sheet already, as on a pinched ring. It
// looks at the half-edges that were paired by angle.
func (s *surface) splitTwiceUsedEdges(paired []int32) {
	type key struct {
		lo, hi int32
		h      int32
	}
	var keys []key
	for _, h := range paired {
		if h < s.twin[h] {
			u, v := s.origin(h), s.target(h)
			keys = append(keys, key{min(u, v), max(u, v), h})
		}
	}
	slices.SortFunc(keys, func(a, b key) int {
		return cmp.Or(cmp.Compare(a.lo, b.lo), cmp.Compare(a.hi, b.hi), cmp.Compare(a.h, b.h))
	})
	for i := 1; i < len(keys); i++ {
		if keys[i].lo == keys[i-1].lo && keys[i].hi == keys[i-1].hi {
			s.splitEdge(keys[i].h)
		}
	}
}

// splitEdge divides the edge of half-edge h and its two facets in the middle.
func (s *surface) splitEdge(h int32) {
	t := s.twin[h]
	m := s.addVertex(snap(s.at[s.origin(h)].Add(s.at[s.target(h)]).Mul(0.5)), -1)
	// Each facet (p, q, r) over the edge p-q keeps (p, m, r) and yields (m, q, r).
	var half [2][2]int32 // per side: the half-edge that ends at m, the one that starts at m
	for i, e := range [2]int32{h, t} {
		f := e / 3
		q, r := s.target(e), s.origin(mesh.Prev(e))
		g := int32(len(s.facets))
		s.facets = append(s.facets, [3]int32{m, q, r})
		s.facet = append(s.facet, s.facet[f])
		s.facets[f][(e+1)%3] = m
		qr := mesh.Next(e) // now m-r
		outer := s.twin[qr]
		s.twin = append(s.twin, mesh.None, outer, qr)
		s.twin[outer] = 3*g + 1
		s.twin[qr] = 3*g + 2
		half[i] = [2]int32{e, 3 * g}
	}
	s.twin[half[0][0]], s.twin[half[1][1]] = half[1][1], half[0][0]
	s.twin[half[1][0]], s.twin[half[0][1]] = half[0][1], half[1][0]
}

// dropDuplicates takes out every component that repeats an earlier one facet
// for facet, and components of two facets back to back. It returns how many it dropped.
func (s *surface) dropDuplicates(sh *shells) int {
	type sum struct {
		facets int
		a, b   uint64
	}
	sums := make([]sum, sh.n)
	for f := range s.facets {
		a, b := s.facetHash(int32(f))
		c := &sums[sh.of[f]]
		c.facets++
		c.a += a
		c.b += b
	}
	far := make([]bool, sh.n) // only part of it is here
	for _, c := range sh.far {
		if c >= 0 {
			far[c] = true
		}
	}
	first := make(map[sum]bool, sh.n)
	drop := make([]bool, sh.n)
	dropped := 0
	for c, k := range sums {
		if far[c] {
			continue
		}
		if first[k] || k.facets == 2 {
			drop[c] = true
			dropped++
		}
		first[k] = true
	}
	if dropped > 0 {
		s.keep(sh, drop)
	}
	return dropped
}

// facetHash returns two hashes of a facet's corners that do not depend on
// which corner comes first. 128 bits make a chance collision of two different
// shells of one part out of the question.
func (s *surface) facetHash(f int32) (a, b uint64) {
	var c [3]uint64
	for k, v := range s.facets[f] {
		c[k] = hashPlace(s.at[v])
	}
	k := 0
	for i := 1; i < 3; i++ {
		if c[i] < c[k] {
			k = i
		}
	}
	a = mix(mix(mix(c[k])+c[(k+1)%3]) + c[(k+2)%3])
	return a, mix(a ^ c[k]<<1)
}

// mix is the finaliser of SplitMix64 (Steele, Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// keep takes out the shells marked.
func (s *surface) keep(sh *shells, drop []bool) {
	for p, c := range sh.far {
		if c >= 0 && drop[c] {
			s.rest.gone[p] = true
		}
	}
	to := make([]int32, len(s.facets))
	n := int32(0)
	for f := range s.facets {
		to[f] = mesh.None
		if !drop[sh.of[f]] {
			to[f] = n
			n++
		}
	}
	twin := make([]int32, 3*n)
	for f, g := range to {
		if g == mesh.None {
			continue
		}
		for k := range int32(3) {
			twin[3*g+k] = mesh.None
			if t := s.twin[3*int32(f)+k]; t >= 0 {
				twin[3*g+k] = 3*to[t/3] + t%3
			}
		}
		s.facets[g], s.facet[g] = s.facets[f], s.facet[f]
	}
	s.facets, s.facet, s.twin = s.facets[:n], s.facet[:n], twin
}
