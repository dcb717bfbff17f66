package loop

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/offset/field"
)

// StepMM is the removal that one solution of the field stands for; mostSteps
// bounds the steps. The field half-way is right to the second order: on a ball of 1.5 mm
// that loses 1.2 mm one step is 0.3 % off, where the field around the grown ball is 10 % off.
const (
	StepMM    = 1.0
	mostSteps = 3

	leastPanels = 5000 // of a step, where the options allow as many
)

// attempt is one prediction.
type attempt struct {
	grown, finished *mesh.Mesh
	factor          []float64   // per facet, mean over the steps
	edge            []float64   // per vertex on a sharp edge: of the strip beside it, mean over the steps; 0 elsewhere
	moves           [][]float64 // per step and vertex: what the bath takes, mm
	panels          int
	removal         float64 // mm
}

// try grows the part and lets the bath take its removal; last is the attempt before, nil for none.
func try(ctx context.Context, m *mesh.Mesh, stock []float64, last *attempt, opt *Options) (*attempt, error) {
	v, err := opt.Grow(ctx, m, stock)
	if err != nil {
		return nil, err
	}
	t := &attempt{grown: m.WithVertices(v)}
	return t, t.finish(ctx, m, last, opt)
}

// finish predicts what the bath leaves of the grown part. The field of each step
// is that of the surface half-way through it, on the way from the grown part to
// nominal, where a loop ends.
func (t *attempt) finish(ctx context.Context, m *mesh.Mesh, last *attempt, opt *Options) error {
	t.finished, t.removal = t.grown, opt.RemovalMM
	t.factor, t.edge = make([]float64, len(m.Facets)), make([]float64, len(m.Vertices))
	share := 1 / float64(opt.Steps)
	wet := make([]float64, len(m.Facets)) // what an even current takes
	for f := range wet {
		if opt.Field.Insulated == nil || !opt.Field.Insulated[f] {
			wet[f] = opt.RemovalMM * share
		}
	}
	mitre := Shift(m, wet)
	for k := range opt.Steps {
		factor, edge, panels, err := exposure(ctx, t.midway(m, last, k, opt.Steps), opt)
		if err != nil {
			return err
		}
		t.panels = panels
		for f, x := range factor {
			t.factor[f] += share * x
		}
		for v, x := range edge {
			t.edge[v] += share * x
		}
		after := Finish(m, t.finished, factor, opt.Field.Insulated, opt.RemovalMM*share)
		for v, x := range edge {
			if x > 0 { // facets at the edge may be wider than the strip
				after.Vertices[v] = t.finished.Vertices[v].Sub(mitre[v].Sub(m.Vertices[v]).Mul(x))
			}
		}
		move := make([]float64, len(m.Vertices))
		for v := range move {
			move[v] = after.Vertices[v].Sub(t.finished.Vertices[v]).Norm()
		}
		t.finished, t.moves = after, append(t.moves, move)
	}
	return nil
}

// midway is the surface in the middle of step k: every vertex has gone the share of its
// way that it had gone in the last attempt, and at first that of the steps.
func (t *attempt) midway(m *mesh.Mesh, last *attempt, k, steps int) *mesh.Mesh {
	at := make([]r3.Vector, len(m.Vertices))
	for v, p := range m.Vertices {
		gone := (float64(k) + 0.5) / float64(steps)
		if last != nil {
			var before, all float64
			for j, move := range last.moves {
				if all += move[v]; j < k {
					before += move[v]
				}
			}
			if all > 0 {
				gone = (before + last.moves[k][v]/2) / all
			}
		}
		at[v] = t.grown.Vertices[v].Add(p.Sub(t.grown.Vertices[v]).Mul(gone))
	}
	return m.WithVertices(at)
}

// Finish returns the surface now, a state of nominal with its facets, after the
// bath took removalMM where the factor is 1; factor is the local one per facet,
// and facets of dry, nil for none, take nothing. Depths go along the normals of
// nominal: those of a grown surface say little where facets ran into each other,
// and elsewhere differ by the slope of the stock, whose square is what is lost.
// The factor is averaged over the facets around each first, twice and never
// across a sharp edge: on rough facets it scatters with the panels.
func Finish(nominal, now *mesh.Mesh, factor []float64, dry []bool, removalMM float64) *mesh.Mesh {
	in := nominal.Incidence()
	depth := even(nominal, in, even(nominal, in, factor, dry), dry)
	for f := range depth {
		if depth[f] *= -removalMM; dry != nil && dry[f] {
			depth[f] = 0
		}
	}
	moved := Shift(nominal, depth)
	for v := range moved {
		moved[v] = now.Vertices[v].Add(moved[v].Sub(nominal.Vertices[v]))
	}
	return now.WithVertices(moved)
}

// exposure solves the field around m, a state of the part. It returns the factor of
// every facet, of the strip beside every vertex on a sharp edge, 0 elsewhere, and the number of panels.
func exposure(ctx context.Context, m *mesh.Mesh, opt *Options) (factor, edge []float64, panels int, err error) {
	out, rep, err := outside(ctx, m, opt.RemovalMM, opt.Field.Workers)
	if err != nil {
		return nil, nil, 0, err
	}
	fo := opt.Field
	if rep != nil && fo.Insulated != nil {
		fo.Insulated = make([]bool, len(rep.Facet))
		for g, f := range rep.Facet {
			fo.Insulated[g] = opt.Field.Insulated[f]
		}
	}
	r, err := field.Solve(ctx, out, fo)
	if err != nil {
		return nil, nil, 0, err
	}
	if rep == nil {
		return r.PerFacet, r.Factor, r.Panels, nil
	}
	edge = make([]float64, len(m.Vertices))
	for w, v := range rep.Vertex {
		if v != mesh.None {
			edge[v] = r.Factor[w]
		}
	}
	return ashore(m, out, rep.Facet, r.PerFacet), edge, r.Panels, nil
}
