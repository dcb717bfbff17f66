package offset

import (
	"context"
	"errors"

	"skinstock/mesh/part"
)

// RankDirections is Orient without the look for crossings that every command takes.
func RankDirections(ctx context.Context, pl *Planned, job Job) error { return pl.orient(ctx, job) }

// CompensateStuck is Compensate for a part of which moving the facets has failed.
func CompensateStuck(ctx context.Context, p *part.Part, job Job) (*Result, error) {
	pl, err := Plan(ctx, p, job)
	if err != nil {
		return nil, err
	}
	if err := pl.finer(ctx, job); err != nil {
		return nil, err
	}
	r := &Result{Planned: pl, Rebuilding: &Rebuilding{Because: &CrossingError{Err: errors.New("stuck")}}}
	if err := r.rebuild(ctx, job, *pl); err != nil {
		return nil, err
	}
	r.GrownMM3 = r.Grown.Volume()
	return r, nil
}
