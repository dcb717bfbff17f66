package offset

import "context"

// RankDirections is Orient without the look for crossings that every command takes.
func RankDirections(ctx context.Context, pl *Planned, job Job) error { return pl.orient(ctx, job) }
