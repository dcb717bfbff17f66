package offset

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/offset/grow"
	"skinstock/offset/remesh"
	"skinstock/offset/verify"
)

// Rebuilding is how the grown surface was made anew. Lengths are mm.
type Rebuilding struct {
	Cell    float64 // side of the grid's cells
	Chord   float64 // how far facets may cut into what is round, at this cell
	Because error   // what moving the facets ended in; nil when rebuilding was asked for
}

// growSound grows the part by moving its facets; where that ends in crossings
// that cannot be resolved, or when asked to, it rebuilds the surface instead.
func (r *Result) growSound(ctx context.Context, job Job) error {
	whole := *r.Planned
	if err := r.finer(ctx, job); err != nil {
		return err
	}
	if job.Lean {
		r.Sorting.Inclination = nil
	}
	fine := *r.Planned
	fine.Findings, fine.known = slices.Clip(fine.Findings), nil
	if !job.Remesh {
		err := r.growChecked(ctx, job, whole)
		var stuck *CrossingError
		if !errors.As(err, &stuck) {
			return err
		}
		r.Rebuilding = &Rebuilding{Because: stuck}
	}
	return r.rebuild(ctx, job, fine)
}

// rebuild makes the grown surface from the distance to the part as it was planned
// and its large facets were cut.
func (r *Result) rebuild(ctx context.Context, job Job, planned Planned) error {
	*r.Planned = planned
	*r = Result{Planned: r.Planned, Rebuilding: r.Rebuilding}
	if r.Rebuilding == nil {
		r.Rebuilding = &Rebuilding{}
	}
	growing, gaps := r.growing(job, nil)
	_, given, err := grow.Field(ctx, r.Nominal, r.Topo, r.FacetMM, growing)
	if err != nil {
		return err
	}
	r.Allowance = given
	r.noteYielded(0)
	r.noteGaps(gaps, job.Recipe.Geometry.MinGapMM.Value)
	job.progress("rebuilding", 0.5)
	if err := r.takeRebuilt(ctx, job); err != nil {
		return err
	}
	if !job.NoVerify {
		job.progress("proof", 0.8)
		w, err := verify.Start(ctx, r.Nominal, r.Grown, r.Allowance, r.proofOptions(job))
		if err != nil {
			return err
		}
		if err := r.cover(ctx, job, w); err != nil {
			return err
		}
		r.Proof = w.Proof()
		r.noteShortfall()
	}
	r.traced = r.NominalOf // small kept facets need not have one of their own
	if err := r.inspect(ctx, job); err != nil {
		return err
	}
	r.Findings = append(r.Findings, r.settled...)
	return nil
}

// takeRebuilt takes the rebuilt surface for the grown one.
func (r *Result) takeRebuilt(ctx context.Context, job Job) error {
	chord := job.rebuildMM()
	// Facets cut into what is round by up to two chords: where there is stock, there is that much more.
	more := append(r.Allowance[:0:0], r.Allowance...)
	for f := range more {
		for k := range more[f] {
			if more[f][k] > 0 {
				more[f][k] += 2 * chord
			}
		}
	}
	out, err := remesh.Build(ctx, r.Nominal, r.nominalTree(job.Workers), more, remesh.Options{Chord: chord, MitreLimit: job.Recipe.Geometry.MitreLimit.Value, Workers: job.Workers})
	if err != nil {
		return r.stillStuck(err)
	}
	r.Grown, r.NominalOf, r.cut, r.Rebuilt = out.Mesh, out.NominalOf, true, len(out.Mesh.Facets)
	r.Grown.CarryFile(r.Nominal, r.NominalOf)
	r.tree = bvh.New(r.Grown, job.Workers)
	r.Rebuilding.Cell, r.Rebuilding.Chord = out.Cell, out.Chord
	r.noteRebuilt(chord)
	r.noteFused(r.Grown, facetCentre(r.Grown, 0))
	return nil
}

// stillStuck adds why the surface had to be rebuilt to why it could not be.
func (r *Result) stillStuck(err error) error {
	var stuck *CrossingError
	if errors.As(r.Rebuilding.Because, &stuck) && !errors.Is(err, context.Canceled) {
		return &CrossingError{At: stuck.At, Err: fmt.Errorf("%w; nor could the surface be rebuilt: %w", stuck.Err, err)}
	}
	return err
}

// noteRebuilt says that no facet of the part is left, why, and how fine the new ones are.
func (r *Result) noteRebuilt(chord float64) {
	f := finding.Finding{
		Code: "remeshed", Severity: finding.Info, Count: len(r.Grown.Facets),
		Message: fmt.Sprintf("the grown surface was rebuilt from the distance to the part, on cells of %.3f mm: %d facets, all new", r.Rebuilding.Cell, len(r.Grown.Facets)),
		Remedy:  "look at small features in the pictures: what is smaller than a cell may be lost",
	}
	if r.Rebuilding.Because != nil {
		var stuck *CrossingError
		errors.As(r.Rebuilding.Because, &stuck)
		f.Severity, f.At = finding.Warning, &stuck.At
		f.Message += fmt.Sprintf(", since moving the facets left crossings (%v)", stuck.Err)
	}
	if r.Rebuilding.Chord > 1.01*chord {
		f.Severity = finding.Warning
		f.Message += fmt.Sprintf("; cells for %.1f um are too many for memory: round places may be off by %.1f um", chord*umPerMM, r.Rebuilding.Chord*umPerMM)
	}
	r.Findings = append(r.Findings, f)
}

// uniteByDistance replaces a part whose facets cross, and which could not be
// united exactly, by the boundary of its metal on a grid.
func (pl *Planned) uniteByDistance(ctx context.Context, job Job, crossings int, stuck *CrossingError) error {
	chord := job.rebuildMM()
	out, err := remesh.Build(ctx, pl.Nominal, pl.nominalTree(job.Workers), mesh.UniformPerFacet(make([]float64, len(pl.Nominal.Facets))),
		remesh.Options{Chord: chord, Overlaps: true, Workers: job.Workers})
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return &CrossingError{At: stuck.At, Err: fmt.Errorf("%w; nor could the surface be rebuilt: %w", stuck.Err, err)}
	}
	out.Mesh.CarryFile(pl.Nominal, out.NominalOf)
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "self_crossing_input", Severity: finding.Warning, At: &stuck.At, Count: crossings,
		Message: fmt.Sprintf("%d pairs of facets of the part cross or touch", crossings), Remedy: "unite the bodies in the CAD program if this was not meant",
	}, finding.Finding{
		Code: "remeshed", Severity: finding.Warning, At: &stuck.At, Count: len(out.Mesh.Facets),
		Message: fmt.Sprintf("its bodies could not be united exactly (%v): the part was rebuilt from the distance to them, on cells of %.3f mm, and round places may be off by %.1f um; stock is proved against the rebuilt part",
			stuck.Err, out.Cell, 2*out.Chord*umPerMM),
		Remedy: "unite the bodies in the CAD program",
	})
	pl.Nominal, pl.Topo, pl.tree = out.Mesh, out.Mesh.Topology(), nil
	return nil
}

// rebuildMM is the chord of rebuilt surfaces, mm.
func (j Job) rebuildMM() float64 {
	if j.ChordUM < 0 {
		return DefaultChordUM / umPerMM
	}
	return j.chordMM()
}
