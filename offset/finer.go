package offset

import (
	"context"
	"fmt"
	"slices"

	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/limit"
	"skinstock/offset/refine"
	"skinstock/region"
)

// DefaultChordUM is how far in um the allowance may be off from that called for
// because facets are large.
const DefaultChordUM = 1.0

const (
	// finerFacets is how many facets refining may add to a part, finerShare what it may
	// add to larger ones for each facet that they have.
	finerFacets = 20000
	finerShare  = 0.25
	// finerWork is for how many facets refining may work out the allowance beyond
	// once for each of the part: on united lattices most facets stand before a narrow
	// gap, and trying them all in pieces takes longer than growing them.
	finerWork = 500_000
)

// Refined is what refining did to the part.
type Refined struct {
	ChordMM       float64 // tolerance; 0 when all facets were to stay whole
	Before, After int     // facets
	Stopped       bool    // more cuts were called for than the bounds let
}

// growFine grows the part, of which large facets were cut where the allowance varies
// inside them; whole is the part before that. Stock is taken back facet by facet where bodies would meet, which can
// cost more beside small facets than it gains: then the facets stay whole. It
// returns the crossings that are left in Grown.
func (r *Result) growFine(ctx context.Context, job Job, whole Planned) (*grow.Result, *bvh.Crossings, error) {
	out, c, err := r.growBest(ctx, job)
	if err != nil || !r.capped || r.Refined.After == r.Refined.Before {
		return out, c, err
	}
	whole.Refined = &Refined{ChordMM: r.Refined.ChordMM, Before: r.Refined.Before, After: r.Refined.Before}
	whole.Findings = slices.Clip(whole.Findings)
	other := *r
	other.Planned = &whole
	out2, c2, err := other.growBest(ctx, job)
	if err != nil {
		return nil, nil, err
	}
	if other.leftOut(out2.Allowance) < r.leftOut(out.Allowance) {
		*r.Planned = whole // whoever holds the plan sees what was grown
		other.Planned = r.Planned
		*r = other
		return out2, c2, nil
	}
	return out, c, nil
}

// leftOut is the volume in mm3 of the stock that is called for and not given.
func (pl *Planned) leftOut(given mesh.CornerField) float64 {
	var v float64
	for f, a := range given {
		v += max(pl.FacetMM[f]-(a[0]+a[1]+a[2])/3, 0) * pl.Nominal.FacetArea(f)
	}
	return v
}

// finer cuts large facets of the nominal part where the allowance varies inside
// them, so that a narrow place or the border of a skin does not decide over all
// of a facet. The surface stays where it is. A field run has cut its facets already.
func (pl *Planned) finer(ctx context.Context, job Job) error {
	most, n := pl.mostAsked(), len(pl.Nominal.Facets)
	pl.Refined = &Refined{ChordMM: max(job.chordMM(), 0), Before: n, After: n}
	if job.ChordUM < 0 || job.Field != FieldNone || most == 0 {
		return nil
	}
	var last [2]known
	opt := refine.Options{
		Tolerance: job.chordMM(),
		Least:     most / job.Recipe.Geometry.MaxSlope.Value, // the allowance takes that long to fall from all to nothing
		Most:      n + max(int(finerShare*float64(n)), finerFacets),
		Work:      n + finerWork,
		Allowance: func(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (wanted, given mesh.CornerField, err error) {
			fine := pl
			if m != pl.Nominal {
				fine = pl.inPieces(m, topo, parent)
			}
			opt, gaps := fine.growing(job, nil)
			wanted, given, err = grow.Field(ctx, m, topo, fine.FacetMM, opt)
			last = [2]known{last[1], {m, given, gaps}} // one of the last two is of the mesh that comes out, unless cuts were left
			return wanted, given, err
		},
	}
	r, err := refine.Run(ctx, pl.Nominal, pl.Topo, opt)
	if err != nil {
		return err
	}
	if r.Mesh != pl.Nominal {
		*pl = *pl.inPieces(r.Mesh, r.Topo, r.Parent)
	}
	for _, k := range last {
		if k.on == r.Mesh {
			pl.known = &k
		}
	}
	if len(r.Parent) == n && !r.Stopped {
		return nil
	}
	pl.Refined.After, pl.Refined.Stopped = len(r.Parent), r.Stopped
	f := finding.Finding{
		Code: "refined", Severity: finding.Info, Count: len(r.Parent) - n,
		Message: fmt.Sprintf("%d facets were cut into %d, in their own planes, where the allowance varies inside large ones", n, len(r.Parent)),
	}
	if r.Stopped {
		f.Severity = finding.Warning
		f.Message += fmt.Sprintf("; more cuts were called for than refining makes, at %d facets most: near borders and narrow places some facets carry up to %.1f um more stock than they need, or less than there is room for", opt.Most, r.LeftMM*umPerMM)
		f.Remedy = "mesh the part finer there"
	}
	pl.Findings = append(pl.Findings, f)
	return nil
}

// known is the allowance on a mesh, after the slope rule and what there is room for.
type known struct {
	on    *mesh.Mesh
	given mesh.CornerField
	gaps  *limit.Result
}

// takeKnown returns the allowance on Nominal where it is known, once: who takes it changes it.
func (pl *Planned) takeKnown() *known {
	k := pl.known
	if pl.known = nil; k == nil || k.on != pl.Nominal {
		return nil
	}
	return k
}

// chordMM is the tolerance of refining and of rebuilding, mm.
func (j Job) chordMM() float64 {
	if j.ChordUM == 0 {
		return DefaultChordUM / umPerMM
	}
	return j.ChordUM / umPerMM
}

// inPieces returns the plan on a mesh whose facet f is a piece of facet
// parent[f] of Nominal; every piece inherits skin, zone and allowance.
func (pl *Planned) inPieces(m *mesh.Mesh, topo *mesh.Topology, parent []int32) *Planned {
	p := *pl
	p.Nominal, p.Topo, p.tree, p.clear = m, topo, nil, pl.clear.InPieces(parent)
	s := *pl.Sorting
	s.Skin, s.Inclination = make([]region.Skin, len(parent)), make([]s1.Angle, len(parent))
	p.FacetMM = make([]float64, len(parent))
	for f, q := range parent {
		s.Skin[f], s.Inclination[f], p.FacetMM[f] = pl.Sorting.Skin[q], pl.Sorting.Inclination[q], pl.FacetMM[q]
	}
	p.Sorting = &s
	if pl.Kept != nil {
		p.Kept = pl.Kept.InPieces(parent)
		p.masked = p.Kept.Masked()
	}
	p.Findings = slices.Clip(pl.Findings)
	return &p
}
