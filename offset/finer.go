package offset

import (
	"context"
	"fmt"
	"slices"

	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/limit"
	"skinstock/offset/refine"
	"skinstock/region"
)

// DefaultChordUM is how far in um the allowance may be off from that called for
// because facets are large.
const DefaultChordUM = 1

// finerFacets is how many facets refining may add to a part that has fewer; to
// others it may add as many as they have.
const finerFacets = 20000

// Refined is what refining did to the part.
type Refined struct {
	Before, After int  // facets
	Stopped       bool // finer facets were called for than the bound lets
}

// finer cuts large facets of the nominal part where the allowance varies inside
// them, so that a narrow place or the border of a skin does not decide over all
// of a facet. The surface stays where it is. A field run has cut its facets already.
func (pl *Planned) finer(ctx context.Context, job Job) error {
	most := slices.Max(pl.FacetMM)
	if job.ChordUM < 0 || job.Field != FieldNone || most == 0 {
		return nil
	}
	n := len(pl.Nominal.Facets)
	opt := refine.Options{
		Tolerance: job.chordMM(),
		Least:     most / job.Recipe.Geometry.MaxSlope.Value, // the allowance takes that long to fall from all to nothing
		Most:      n + max(n, finerFacets),
		Allowance: func(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, parent []int32) (wanted, given mesh.CornerField, err error) {
			fine := pl.inPieces(m, topo, parent)
			growing := fine.growOptions(job)
			var gaps *limit.Result
			fine.openGaps(job, &growing, nil, &gaps)
			return grow.Field(ctx, m, topo, fine.FacetMM, growing)
		},
	}
	r, err := refine.Run(ctx, pl.Nominal, pl.Topo, opt)
	if err != nil || len(r.Parent) == n && !r.Stopped {
		return err
	}
	*pl = *pl.inPieces(r.Mesh, r.Topo, r.Parent)
	pl.Refined = &Refined{Before: n, After: len(r.Parent), Stopped: r.Stopped}
	f := finding.Finding{
		Code: "refined", Severity: finding.Info, Count: len(r.Parent) - n,
		Message: fmt.Sprintf("%d facets were cut into %d, in their own planes, where the allowance varies inside large ones", n, len(r.Parent)),
	}
	if r.Stopped {
		f.Severity = finding.Warning
		f.Message += fmt.Sprintf("; more cuts were called for than the %d facets that refining stops at: near borders and narrow places some facets carry more stock than they need, or less than there is room for", opt.Most)
		f.Remedy = "mesh the part finer there"
	}
	pl.Findings = append(pl.Findings, f)
	return nil
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
	p.Nominal, p.Topo, p.tree = m, topo, nil
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

