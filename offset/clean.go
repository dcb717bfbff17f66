package offset

import (
	"context"
	"fmt"

	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
	"skinstock/mesh/clean"
	"skinstock/mesh/finding"
)

const (
	// cleanShare is the share of facets in crossings above which slivers are not their cause.
	cleanShare = 0.02
	// anyShape leaves long facets alone: only low ones are cleaned.
	anyShape = 1e-6
)

// clean takes the slivers out of a part in which few facets cross, and tells
// whether none cross after that: exporters leave slivers folded over by a rounding, and
// cutting those would only make more of them. Parts without crossings keep
// every facet: slivers alone do no harm when they grow.
func (pl *Planned) clean(ctx context.Context, job Job, crossings int, at r3.Vector) (bool, error) {
	if float64(crossings) > cleanShare*float64(len(pl.Nominal.Facets)) {
		return false, nil
	}
	m, rep, err := clean.Slivers(ctx, pl.Nominal, clean.Options{Shape: anyShape})
	if err != nil || m == pl.Nominal {
		return false, err
	}
	tree := bvh.New(m, job.Workers)
	c, err := tree.SelfCrossings(ctx, bvh.CrossingOptions{Workers: job.Workers, Limit: 1})
	if err != nil || c.Total > 0 {
		return false, err
	}
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "cleaned", Severity: finding.Info, At: &at, SizeMM: rep.MovedMM, Count: rep.Collapsed + rep.Flipped,
		Message: fmt.Sprintf("%d pairs of facets crossed or touched at slivers: %d edges of slivers were taken out and %d turned, by which the surface moved %.2f um at most and has %d facets fewer",
			crossings, rep.Collapsed, rep.Flipped, rep.MovedMM*umPerMM, len(pl.Nominal.Facets)-len(m.Facets)),
	})
	pl.Nominal, pl.Topo, pl.tree = m, m.Topology(), tree
	return true, nil
}
