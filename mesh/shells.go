package mesh

import (
	"math"

	"github.com/golang/geo/r3"
)

// Shell is a group of facets joined by edges.
type Shell struct {
	Facets []int32 // ascending
	Closed bool    // every edge has its partner

	VolumeMM3 float64 // enclosed, negative when the facets face inwards; means a volume only when closed
	AreaMM2   float64
	Lo, Hi    r3.Vector // box, mm

	// Depth counts the closed shells that this one lies inside; Parent is the
	// smallest of them, or -1. Open shells have depth 0 and hold nothing.
	Depth, Parent int

	// Cavity tells that the shell bounds a hollow inside metal: closed, of
	// negative volume, inside more shells of metal than of hollows.
	Cavity bool
}

// Shells returns the shells in order of their first facet, with their nesting.
// Facets hang together through the pairs of topo alone, so bodies that touch
// in an edge or a vertex are shells of their own. Time is in proportion to the
// facets, but for the facets that cover many shells in the view along z.
func (m *Mesh) Shells(topo *Topology) []Shell {
	label, count := m.ShellLabels(topo)
	shells := m.shellMeasures(topo, label, count)
	nest(shells, m.nesting(shells, label))
	return shells
}

// nest fills in how shells lie in each other.
func nest(shells []Shell, inside [][]int32) {
	for s := range shells {
		sh := &shells[s]
		sh.Depth, sh.Parent = len(inside[s]), -1
		around := 0
		for _, p := range inside[s] {
			if shells[p].VolumeMM3 > 0 {
				around++
			} else {
				around--
			}
			if sh.Parent < 0 || math.Abs(shells[p].VolumeMM3) < math.Abs(shells[sh.Parent].VolumeMM3) {
				sh.Parent = int(p)
			}
		}
		sh.Cavity = sh.Closed && sh.VolumeMM3 < 0 && around > 0
	}
}

// ShellLabels numbers the shells by their first facet, as Shells does, and returns the number
// of each facet's shell.
func (m *Mesh) ShellLabels(topo *Topology) (label []int32, count int) {
	// first[f] leads to the first facet of f's set, by ever lower numbers. Facets
	// are joined to what comes before them, which in a file lies near.
	first := make([]int32, len(m.Facets))
	for f := range first {
		first[f] = int32(f)
	}
	JoinBefore(len(first), func(f, lo, hi int) { joinBefore(first, topo.Twin, f, lo, hi) })
	for f, g := range first { // what it leads to has its label already
		if int(g) == f {
			first[f] = int32(count)
			count++
		} else {
			first[f] = first[g]
		}
	}
	return first, count
}

// joinBefore joins facet f to those of its neighbours that are facets from lo up
// to hi, which come before it.
func joinBefore(first, twin []int32, f, lo, hi int) {
	root := int32(-1)
	for _, t := range twin[3*f : 3*f+3] {
		if int(t) < 3*lo || int(t) >= 3*hi {
			continue
		}
		if root < 0 {
			root = lead(first, int32(f))
		}
		g := lead(first, t/3)
		root, g = min(root, g), max(root, g)
		first[g] = root
	}
	if root >= 0 {
		first[f] = root
	}
}

// lead returns the first facet of f's set, and shortens the way to it.
func lead(first []int32, f int32) int32 {
	for first[f] != f {
		first[f] = first[first[f]]
		f = first[f]
	}
	return f
}

// shellMeasures fills in all but the nesting.
func (m *Mesh) shellMeasures(topo *Topology, label []int32, count int) []Shell {
	if count == 1 {
		return []Shell{m.wholeShell(topo)}
	}
	shells := make([]Shell, count)
	size := make([]int, count)
	for _, s := range label {
		size[s]++
	}
	all := make([]int32, len(label))
	for s := range shells {
		shells[s] = Shell{Facets: all[:0:size[s]], Closed: true, Parent: -1, Lo: far, Hi: far.Mul(-1)}
		all = all[size[s]:]
	}
	for f, s := range label {
		sh := &shells[s]
		sh.Facets = append(sh.Facets, int32(f))
		p, q, r := m.Triangle(f)
		sh.Lo = lower(sh.Lo, lower(p, lower(q, r)))
		sh.Hi = upper(sh.Hi, upper(p, upper(q, r)))
		sh.AreaMM2 += 0.5 * q.Sub(p).Cross(r.Sub(p)).Norm()
		t := topo.Twin[3*f : 3*f+3]
		if t[0] == None || t[1] == None || t[2] == None {
			sh.Closed = false
		}
	}
	// Volumes about the middle of each shell's own box, for the sake of their last digits.
	middle := make([]r3.Vector, count)
	for s := range shells {
		middle[s] = shells[s].Lo.Add(shells[s].Hi).Mul(0.5)
	}
	for s, v := range m.volumesAbout(middle, label) {
		shells[s].VolumeMM3 = v
	}
	return shells
}

// ShellVolumes returns what the shells that ShellLabels numbered enclose, in
// mm3, negative for those that face inwards.
func (m *Mesh) ShellVolumes(label []int32, count int) []float64 {
	at := make([]r3.Vector, count)
	for f := len(label) - 1; f >= 0; f-- {
		at[label[f]] = m.Corner(f, 0) // near the shell's facets, the first of them in the end
	}
	return m.volumesAbout(at, label)
}

// volumesAbout sums up the tetrahedra from a point of each shell to its facets.
func (m *Mesh) volumesAbout(o []r3.Vector, label []int32) []float64 {
	volume := make([]float64, len(o))
	for f, s := range label {
		p, q, r := m.Triangle(f)
		volume[s] += p.Sub(o[s]).Dot(q.Sub(o[s]).Cross(r.Sub(o[s]))) / 6
	}
	return volume
}

// wholeShell measures a mesh that is one shell.
func (m *Mesh) wholeShell(topo *Topology) Shell {
	n := len(m.Facets)
	sh := Shell{Facets: make([]int32, n), Closed: true, Parent: -1, Lo: far, Hi: far.Mul(-1)}
	parts := make([]Shell, (n+Chunk-1)/Chunk)
	closed := topo.Closed()
	InChunks(n, 0, func(lo, hi int) {
		p := Shell{Closed: true}
		p.Lo = m.Corner(lo, 0)
		p.Hi = p.Lo
		for f := lo; f < hi; f++ {
			sh.Facets[f] = int32(f)
			a, b, c := m.Triangle(f)
			widen(&p.Lo, &p.Hi, &a)
			widen(&p.Lo, &p.Hi, &b)
			widen(&p.Lo, &p.Hi, &c)
			p.AreaMM2 += 0.5 * b.Sub(a).Cross(c.Sub(a)).Norm()
			if t := topo.Twin[3*f : 3*f+3]; !closed && (t[0] == None || t[1] == None || t[2] == None) {
				p.Closed = false
			}
		}
		parts[lo/Chunk] = p
	})
	for i := range parts {
		p := &parts[i]
		sh.Lo, sh.Hi = lower(sh.Lo, p.Lo), upper(sh.Hi, p.Hi)
		sh.AreaMM2 += p.AreaMM2
		sh.Closed = sh.Closed && p.Closed
	}
	sh.VolumeMM3 = m.volumeAbout(sh.Lo.Add(sh.Hi).Mul(0.5))
	return sh
}

var far = r3.Vector{X: math.Inf(1), Y: math.Inf(1), Z: math.Inf(1)}

func lower(a, b r3.Vector) r3.Vector {
	return r3.Vector{X: min(a.X, b.X), Y: min(a.Y, b.Y), Z: min(a.Z, b.Z)}
}

func upper(a, b r3.Vector) r3.Vector {
	return r3.Vector{X: max(a.X, b.X), Y: max(a.Y, b.Y), Z: max(a.Z, b.Z)}
}

// dropFlaps leaves out closed shells that lie flat in a plane, and returns the
// shells that stay, with every facet's.
func (b *builder) dropFlaps() ([]Shell, []int32) {
	m := b.m
	label, count := m.ShellLabels(b.topo)
	shells := m.shellMeasures(b.topo, label, count)
	tol := b.rounding
	var drop []bool
	for s := range shells {
		if !m.flatShell(&shells[s], tol) {
			continue
		}
		if drop == nil {
			drop = make([]bool, len(m.Facets))
		}
		for _, f := range shells[s].Facets {
			drop[f] = true
		}
		b.rep.note(MendFlap, len(shells[s].Facets), m.Centroid(int(shells[s].Facets[0])), 0)
	}
	if drop == nil {
		return shells, label
	}
	b.keep(drop)
	b.topo = m.Topology()
	label, count = m.ShellLabels(b.topo)
	return m.shellMeasures(b.topo, label, count), label
}

// flatShell tells whether all of a shell lies in one plane, to within tol,
// the rounding of its coordinates.
func (m *Mesh) flatShell(s *Shell, tol float64) bool {
	if math.Abs(s.VolumeMM3) > tol*s.AreaMM2 { // more than a sheet two roundings thick
		return false
	}
	var n r3.Vector
	for _, f := range s.Facets {
		if a := m.AreaNormal(int(f)); a.Norm2() > n.Norm2() {
			n = a
		}
	}
	n = n.Normalize()
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, f := range s.Facets {
		for k := range 3 {
			d := n.Dot(m.Corner(int(f), k).Sub(s.Lo))
			lo, hi = min(lo, d), max(hi, d)
		}
	}
	return hi-lo <= 2*tol
}

// turnInverted turns shells that are inside out. From the outside in, a shell
// of negative volume is a cavity when it lies in metal, and inverted
// otherwise. When a shell is turned, a shell right inside it that was its
// opposite in the file is turned too: the part was inverted as a whole,
// cavities included. It returns which shells each lies inside, and whether any
// was turned.
func (b *builder) turnInverted(shells []Shell, label []int32) (inside [][]int32, changed bool) {
	m := b.m
	inside = m.nesting(shells, label)
	parent := innermost(shells, inside)
	turned := make([]bool, len(shells))
	metal := func(s int32) bool { return (shells[s].VolumeMM3 > 0) != turned[s] }
	for _, s := range byDepth(inside) {
		around := 0
		for _, p := range inside[s] {
			if metal(p) {
				around++
			} else {
				around--
			}
		}
		p := parent[s]
		opposite := p != None && turned[p] && (shells[s].VolumeMM3 > 0) != (shells[p].VolumeMM3 > 0)
		if opposite || !metal(s) && around <= 0 {
			turned[s] = true
			changed = true
			b.rep.note(MendInverted, 1, m.Centroid(int(shells[s].Facets[0])), 0)
		} else if metal(s) && around > 0 {
			if b.rep.Nested == 0 {
				b.rep.NestedAt = m.Centroid(int(shells[s].Facets[0]))
			}
			b.rep.Nested++
		}
	}
	if !changed {
		return inside, false
	}
	for f, s := range label {
		if turned[s] {
			m.turn(f)
		}
	}
	b.topo = m.Topology()
	return inside, true
}

// innermost returns for every shell the smallest of the shells around it, or None.
func innermost(shells []Shell, inside [][]int32) []int32 {
	parent := make([]int32, len(shells))
	for s := range shells {
		parent[s] = None
		for _, p := range inside[s] {
			if parent[s] == None || math.Abs(shells[p].VolumeMM3) < math.Abs(shells[parent[s]].VolumeMM3) {
				parent[s] = p
			}
		}
	}
	return parent
}

// byDepth returns the shells, those inside fewer others first, else ascending.
func byDepth(inside [][]int32) []int32 {
	deepest := 0
	for _, in := range inside {
		deepest = max(deepest, len(in))
	}
	start := make([]int, deepest+2)
	for _, in := range inside {
		start[len(in)+1]++
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	order := make([]int32, len(inside))
	for s, in := range inside {
		order[start[len(in)]] = int32(s)
		start[len(in)]++
	}
	return order
}
