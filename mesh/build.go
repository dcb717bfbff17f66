package mesh

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
)

// BuildOptions says how a soup becomes a mesh.
type BuildOptions struct {
	// UnitMM is the length of one file unit in mm; 0 means 1.
	UnitMM float64

	// WeldTolMM is the widest crack to close, mm. 0 goes by the part's size and
	// the precision of its numbers; a negative value allows exact welding only.
	WeldTolMM float64

	// Welder has taken the first facets of the soup while it was read; nil when
	// none has.
	Welder *Welder
}

// ErrNoFacets says that there is nothing to build.
var ErrNoFacets = errors.New("no facets")

// ErrNoVolume says that the facets are sheets that bound no metal.
var ErrNoVolume = errors.New("the facets enclose no volume: export the part as a solid body, not as a sheet")

// Most facets a mesh can have: half-edge numbers, doubled, must fit 32 bits.
const maxFacets = math.MaxInt32 / 3

// NotSolidError says that the facets bound no solid and cannot be mended safely.
type NotSolidError struct {
	Open, NonManifold, WrongWay int // edges

	At    r3.Vector // mm, middle of the first bad edge in facet order
	Facet int       // facet of the input at that edge, counted from 0; Error counts from 1, as readers do

	WeldTolMM float64 // widest crack that was tried to close, mm
}

// Error tells the counts, the first place and what helps.
func (e *NotSolidError) Error() string {
	s := "the surface does not close: "
	sep := ""
	add := func(n int, what string) {
		if n > 0 {
			s += fmt.Sprintf("%s%d %s", sep, n, what)
			sep = ", "
		}
	}
	add(e.Open, "open edges")
	add(e.NonManifold, "edges of three or more facets that do not pair up")
	add(e.WrongWay, "edges with facets wound against each other")
	s += fmt.Sprintf("; the first at (%.6g, %.6g, %.6g) mm, facet %d", e.At.X, e.At.Y, e.At.Z, e.Facet+1)
	if e.Open > 0 {
		return s + fmt.Sprintf("; cracks up to %.3g mm were tried: close the holes in the CAD program and export again, or allow a wider weld tolerance", e.WeldTolMM)
	}
	return s + "; make one solid of the bodies in the CAD program and export again"
}

// Build makes an indexed mesh in mm of a soup: corners equal bit for bit are
// joined, and faults that can be mended without guessing are mended, each
// counted in Repairs. The mesh returned is closed and manifold at every edge
// and vertex, every outermost shell is wound outwards, and facets that were
// kept stay in their order. A surface that cannot be mended safely ends in a
// *NotSolidError, next to the Repairs made so far.
func Build(s *Soup, opt BuildOptions) (*Mesh, *Repairs, error) {
	b, err := BuildWhole(s, opt)
	return b.Mesh, b.Repairs, err
}

// Built is a mesh with what building it has found out.
type Built struct {
	Mesh    *Mesh
	Topo    *Topology
	Around  *Incidence // nil where there were repairs
	Shells  []Shell
	Repairs *Repairs
}

// BuildWhole is Build for callers that go on with topology and shells. With an
// error there are the repairs made so far at most.
func BuildWhole(s *Soup, opt BuildOptions) (Built, error) {
	if s.Len() == 0 {
		return Built{}, ErrNoFacets
	}
	if s.Len() > maxFacets {
		return Built{}, fmt.Errorf("%d facets: more than the %d a mesh can number", s.Len(), maxFacets)
	}
	unit := opt.UnitMM
	if unit == 0 {
		unit = 1
	}
	if !(unit > 0) || math.IsInf(unit, 1) {
		return Built{}, fmt.Errorf("unit of %g mm: must be a positive length", unit)
	}
	weld := weldExact
	if opt.Welder != nil {
		weld = opt.Welder.finish
	}
	points, facets, err := weld(s.Corners)
	if err != nil {
		return Built{}, err
	}
	m := &Mesh{Vertices: scaled(points, unit), Facets: facets}
	if s.Attributes != nil {
		m.Attributes = append([]uint16(nil), s.Attributes...)
	}
	m.Solids = append([]Solid(nil), s.Solids...)

	b := &builder{m: m, rep: &Repairs{}, opt: opt}
	shells, err := b.mend()
	if err != nil {
		return Built{Repairs: b.rep}, err
	}
	return Built{Mesh: b.m, Topo: b.topo, Around: b.around, Shells: shells, Repairs: b.rep}, nil
}

// builder holds the mesh under repair.
type builder struct {
	m      *Mesh
	rep    *Repairs
	opt    BuildOptions
	topo   *Topology
	around *Incidence // of the mesh as it came

	rounding float64 // mm, see Mesh.rounding
	sound    bool    // the file's surface closes and has no facet of next to no height
}

// mend runs the repairs in order and returns the shells of what came of it.
func (b *builder) mend() ([]Shell, error) {
	b.rounding = b.m.rounding()
	b.dropFolded()
	b.sound = b.closeShortEdges() == 0
	b.around = b.m.Incidence()
	b.topo = b.m.pair(b.around)
	b.sound = b.sound && b.topo.Closed()
	b.rep.OpenEdges, b.rep.NonManifoldEdges, b.rep.WrongWayEdges = b.topo.OpenEdges, b.topo.NonManifoldEdges, b.topo.WrongWayEdges
	if !b.topo.Closed() {
		b.dropDuplicates()
		if b.closeCracks() {
			b.dropDuplicates() // sheets that the cracks kept apart
		}
		b.alignWinding()
		b.dropMembranes()
		b.separateEdges()
	}
	if !b.topo.Closed() {
		return nil, b.refusal()
	}
	b.separateVertices()
	if !b.topo.Closed() {
		return nil, b.refusal() // not reached as far as is known; better refused than wrong
	}
	b.flipFlat()
	shells, label := b.dropFlaps()
	if len(b.m.Facets) == 0 {
		return nil, ErrNoVolume
	}
	inside, turned := b.turnInverted(shells, label)
	if b.rep.Total() > 0 {
		b.compact()
		b.around = nil
	}
	if turned {
		return b.m.Shells(b.topo), nil
	}
	nest(shells, inside)
	return shells, nil
}

// refusal describes the first trouble.
func (b *builder) refusal() error {
	e := &NotSolidError{
		Open: b.topo.OpenEdges, NonManifold: b.topo.NonManifoldEdges, WrongWay: b.topo.WrongWayEdges,
		WeldTolMM: b.rep.WeldTolMM,
	}
	for h, t := range b.topo.Twin {
		if t == None {
			e.At = b.middle(int32(h))
			e.Facet = b.m.SourceOf(h / 3)
			break
		}
	}
	return e
}

// middle returns the middle of half-edge h.
func (b *builder) middle(h int32) r3.Vector {
	return b.m.Vertices[b.m.Origin(h)].Add(b.m.Vertices[b.m.Target(h)]).Mul(0.5)
}

// keep leaves out the facets with drop set, and takes source numbers,
// attributes and solids along. The vertices stay; see compact.
func (b *builder) keep(drop []bool) {
	m := b.m
	b.makeSource()
	solidOf := newSolidCounter(m.Solids)
	n := 0
	for f := range m.Facets {
		if drop[f] {
			solidOf.less(f)
			continue
		}
		m.Facets[n], m.Source[n] = m.Facets[f], m.Source[f]
		if m.Attributes != nil {
			m.Attributes[n] = m.Attributes[f]
		}
		n++
	}
	m.Facets, m.Source = m.Facets[:n], m.Source[:n]
	if m.Attributes != nil {
		m.Attributes = m.Attributes[:n]
	}
	m.Solids = solidOf.result()
}

// makeSource writes the source numbers out, before facets are moved.
func (b *builder) makeSource() {
	if b.m.Source == nil {
		b.m.Source = make([]int32, len(b.m.Facets))
		for f := range b.m.Source {
			b.m.Source[f] = int32(f)
		}
	}
}

// solidCounter keeps the runs of facets right while facets come and go in order.
type solidCounter struct {
	old, now []Solid
	i        int
}

func newSolidCounter(s []Solid) *solidCounter {
	return &solidCounter{old: s, now: append([]Solid(nil), s...)}
}

// less and more are called with ascending facet numbers of the old mesh.
func (c *solidCounter) less(f int)        { c.add(f, -1) }
func (c *solidCounter) more(f int, n int) { c.add(f, n) }

func (c *solidCounter) add(f, n int) {
	for c.i < len(c.old) && f >= c.old[c.i].First+c.old[c.i].Count {
		c.i++
	}
	if c.i < len(c.old) && f >= c.old[c.i].First {
		c.now[c.i].Count += n
	}
}

// result returns the runs with their new starts. The runs follow each other.
func (c *solidCounter) result() []Solid {
	first := 0
	for i := range c.now {
		c.now[i].First = first
		first += c.now[i].Count
	}
	return c.now
}

// dropFolded leaves out facets with two equal corners. Their other two
// half-edges run along one edge in both directions, so nothing opens.
func (b *builder) dropFolded() {
	var drop []bool
	n := 0
	for f, t := range b.m.Facets {
		if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
			continue
		}
		if drop == nil {
			drop = make([]bool, len(b.m.Facets))
			b.rep.note(MendFolded, 0, r3.Vector{}, 0)
		}
		b.rep.note(MendFolded, 1, b.m.Vertices[t[0]], 0)
		drop[f] = true
		n++
	}
	if n > 0 {
		b.keep(drop)
	}
}

// compact leaves out vertices that no facet uses any more.
func (b *builder) compact() {
	m := b.m
	number := make([]int32, len(m.Vertices))
	for v := range number {
		number[v] = None
	}
	for _, t := range m.Facets {
		number[t[0]], number[t[1]], number[t[2]] = 0, 0, 0
	}
	n := int32(0)
	for v := range m.Vertices {
		if number[v] != None {
			m.Vertices[n] = m.Vertices[v]
			number[v] = n
			n++
		}
	}
	m.Vertices = m.Vertices[:n]
	for f := range m.Facets {
		for k := range 3 {
			m.Facets[f][k] = number[m.Facets[f][k]]
		}
	}
	touching := b.rep.Touching[:0]
	for _, v := range b.rep.Touching {
		if number[v] != None {
			touching = append(touching, number[v])
		}
	}
	b.rep.Touching = touching
}
