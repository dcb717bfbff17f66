package orient

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Both scores directions on the histogram and on the real mesh, against the
// same worst direction.
func Both(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt Options, dirs []r3.Vector) (quick, full []Candidate, err error) {
	if err := opt.complete(); err != nil {
		return nil, nil, err
	}
	k := &ranker{opt: opt, limits: newLimits(opt.VerticalFrom, opt.Critical), hist: NewHistogram(m, opt.Masked)}
	sampled := make([]Candidate, 0, DefaultDirections)
	for _, d := range Even(DefaultDirections) {
		sampled = append(sampled, Candidate{Dir: d})
	}
	if err := k.tallyAll(ctx, sampled); err != nil {
		return nil, nil, err
	}
	k.measureWorst(sampled)
	for _, d := range dirs {
		a, b := Candidate{Dir: d}, Candidate{Dir: d}
		if err := k.quick(&a); err != nil {
			return nil, nil, err
		}
		a.Score = k.score(&a)
		if err := k.exact(m, topo, &b); err != nil {
			return nil, nil, err
		}
		quick, full = append(quick, a), append(full, b)
	}
	return quick, full, nil
}
