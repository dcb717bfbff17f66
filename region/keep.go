package region

import (
	"errors"
	"fmt"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// zoneSlack is how far outside a zone's body a corner may lie, mm: faces
// drawn at the very border of a zone belong to it.
const zoneSlack = 0.001

// NoZone marks a facet that no zone takes.
const NoZone int16 = -1

// mostZones is how many zones a label can tell apart.
const mostZones = 1 << 14

// ErrAllMasked is returned when nothing of the part is left for the bath.
var ErrAllMasked = errors.New("the keep zones mask the whole part: nothing is left for the bath")

// ErrZoneEmpty is wrapped by the error for a zone that takes no facet.
var ErrZoneEmpty = errors.New("the zone touches nothing")

// Kept is a part with its keep zones.
type Kept struct {
	Zone  []int16 // per facet: the first zone that takes it, or NoZone
	Zones []KeptZone
}

// KeptZone is what a zone took.
type KeptZone struct {
	Zone
	Facets    int
	AreaMM2   float64
	Straddle  int       // facets with only one or two corners in the zone, which it does not take
	Contested int       // facets that an earlier zone took
	Plane     *PlaneFit // when its facets are one plane
	Bore      *BoreFit  // when they are one cylinder
}

// Keep labels the facets of m by zone. topo is the topology of m, tree a tree
// over it. A zone that takes no facet is an error that wraps ErrZoneEmpty.
func Keep(m *mesh.Mesh, topo *mesh.Topology, tree *bvh.Tree, zones []Zone) (*Kept, error) {
	if len(zones) > mostZones {
		return nil, fmt.Errorf("%d keep zones: at most %d", len(zones), mostZones)
	}
	k := &Kept{Zone: slices.Repeat([]int16{NoZone}, len(m.Facets)), Zones: make([]KeptZone, len(zones))}
	p := newPicker(m, topo)
	p.tree, p.patch = tree, finePatch
	for i := range zones {
		z := &k.Zones[i]
		z.Zone = zones[i]
		facets, err := z.take(p)
		if err != nil {
			return nil, fmt.Errorf("keep zone %q: %w", z.Label(), err)
		}
		for _, f := range facets {
			if k.Zone[f] != NoZone {
				z.Contested++
				continue
			}
			k.Zone[f] = int16(i)
			z.Facets++
			z.AreaMM2 += m.FacetArea(int(f))
		}
		if z.Facets == 0 {
			return nil, fmt.Errorf("keep zone %q: %w", z.Label(), z.empty())
		}
	}
	return k, nil
}

// empty says why the zone took nothing.
func (z *KeptZone) empty() error {
	switch {
	case z.Contested > 0:
		return fmt.Errorf("%w that an earlier zone has not taken", ErrZoneEmpty)
	case z.Straddle > 0:
		return fmt.Errorf("%w whole: %d facets reach out of it; make it larger, or refine the mesh there", ErrZoneEmpty, z.Straddle)
	default:
		return fmt.Errorf("%w; check its place and the part's units", ErrZoneEmpty)
	}
}

// take returns the facets of the zone, ascending.
func (z *KeptZone) take(p *picker) ([]int32, error) {
	if err := z.Shape.check(); err != nil {
		return nil, err
	}
	if !(z.StockMM >= 0) {
		return nil, fmt.Errorf("stock %g mm: give 0 or more", z.StockMM)
	}
	switch s := z.Shape.(type) {
	case BoreNear:
		facets, fit, err := p.bore(s.Point)
		z.Bore = &fit
		return facets, err
	case PlaneNear:
		facets, fit, err := p.plane(s.Point)
		z.Plane = &fit
		return facets, err
	case body:
		facets := z.inside(p.m, s)
		p.describe(z, facets)
		return facets, nil
	default:
		return nil, fmt.Errorf("unknown shape %T", s)
	}
}

// inside returns the facets whose corners all lie in the body.
func (z *KeptZone) inside(m *mesh.Mesh, b body) []int32 {
	in := make([]bool, len(m.Vertices))
	for v, p := range m.Vertices {
		in[v] = b.within(p, zoneSlack)
	}
	var facets []int32
	for f, t := range m.Facets {
		n := 0
		for _, v := range t {
			if in[v] {
				n++
			}
		}
		switch n {
		case 3:
			facets = append(facets, int32(f))
		case 1, 2:
			z.Straddle++
		}
	}
	return facets
}

// describe measures the facets of a zone when they are one plane or one cylinder.
func (k *picker) describe(z *KeptZone, facets []int32) {
	if len(facets) == 0 {
		return
	}
	if fit, err := FitPlane(k.m, facets); err == nil && fit.FlatnessMM <= mostFlatness {
		z.Plane = &fit
		return
	}
	if _, bend, ok := axisOf(k.m, facets); !ok || bend < leastBend {
		return
	}
	o, pts, ok := k.fits.fit(facets, settled)
	if !ok || slices.ContainsFunc(facets, func(f int32) bool { return !k.onRound(f, &o) }) {
		return
	}
	fit := o.measure(k.m, facets, pts)
	z.Bore = &fit
}

// Kind says what the zone's facets are: plane, bore, shaft or surface.
func (z *KeptZone) Kind() string {
	switch {
	case z.Plane != nil:
		return "plane"
	case z.Bore != nil && z.Bore.Shaft:
		return "shaft"
	case z.Bore != nil:
		return "bore"
	}
	return "surface"
}

// Masked returns per facet whether it is masked, as growing takes it.
func (k *Kept) Masked() []bool {
	out := make([]bool, len(k.Zone))
	for f, i := range k.Zone {
		out[f] = i != NoZone && k.Zones[i].Mask()
	}
	return out
}

// Allowance returns a copy of allowances per facet in mm with those of the
// zones in their place: zero where masked, else the stock.
func (k *Kept) Allowance(perFacetMM []float64) []float64 {
	out := slices.Clone(perFacetMM)
	for f, i := range k.Zone {
		if i != NoZone {
			out[f] = k.Zones[i].StockMM
		}
	}
	return out
}

// FacetsOf returns the facets of zone i, ascending.
func (k *Kept) FacetsOf(i int) []int32 {
	var out []int32
	for f, z := range k.Zone {
		if int(z) == i {
			out = append(out, int32(f))
		}
	}
	return out
}

// InPieces returns the zones on a mesh whose facet f is a piece of facet parent[f].
func (k *Kept) InPieces(parent []int32) *Kept {
	out := &Kept{Zone: make([]int16, len(parent)), Zones: slices.Clone(k.Zones)}
	for i := range out.Zones {
		out.Zones[i].Facets = 0
	}
	for f, p := range parent {
		if out.Zone[f] = k.Zone[p]; out.Zone[f] != NoZone {
			out.Zones[out.Zone[f]].Facets++
		}
	}
	return out
}

// Held appends to dirs the directions across which a vertex of facet f must
// not move if its zone is to stay as it is: the normal of a plane, and the two
// across the axis of a bore, along which the vertex may slide. It appends none
// for other facets.
func (k *Kept) Held(f int, dirs []r3.Vector) []r3.Vector {
	i := k.Zone[f]
	if i == NoZone {
		return dirs
	}
	switch z := &k.Zones[i]; {
	case z.Plane != nil:
		return append(dirs, z.Plane.Normal)
	case z.Bore != nil:
		u, v := Across(z.Bore.Axis)
		return append(dirs, u, v)
	}
	return dirs
}
