package offset

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/part"
	"skinstock/offset/grow"
	"skinstock/region"
)

// ErrNothingToAdd says that the plan gives no facet any stock.
var ErrNothingToAdd = errors.New("no skin gets any stock: the allowances are all zero")

// Compensate plans the part, grows it and proves the result. The grown mesh of
// a result is closed, manifold and, unless the job goes unchecked, free of
// crossings; where that cannot be had the error is a *CrossingError and there is
// no result.
func Compensate(ctx context.Context, p *part.Part, job Job) (*Result, error) {
	pl, err := Plan(ctx, p, job)
	if err != nil {
		return nil, err
	}
	res := &Result{Planned: pl}
	if job.Field == FieldFull {
		if err := pl.closeLoop(ctx, job); err != nil {
			return nil, err
		}
	}
	job.progress("growing", 0.4)
	if job.Unchecked {
		if err := res.growUnchecked(ctx, job); err != nil {
			return nil, err
		}
	} else if err := res.growSound(ctx, job); err != nil {
		return nil, err
	}
	res.Unchecked = job.Unchecked
	res.GrownMM3 = res.Grown.Volume()
	res.AddedG = (res.GrownMM3 - pl.measures().VolumeMM3) / 1000 * job.Recipe.Material.DensityGPerCM3.Value
	res.tree = nil
	if !job.KeepTree {
		pl.tree = nil
	}
	job.progress("done", 1)
	return res, ctx.Err()
}

// growChecked grows the nominal surface where there is room, makes it free of
// crossings, proves it and measures its sizes; whole is as in growFine.
func (r *Result) growChecked(ctx context.Context, job Job, whole Planned) error {
	var out *grow.Result
	var crossings *bvh.Crossings
	found := foundSizes{on: r.Nominal}
	topo := r.Topo // growing may go back to the whole part
	err := mesh.Beside(
		ctx, job.Workers,
		func() (err error) {
			out, crossings, err = r.growFine(ctx, job, whole)
			return err
		},
		func() (err error) {
			found.sizes, err = region.Sizes(ctx, found.on, topo, job.Workers)
			return err
		},
	)
	if err != nil {
		return err
	}
	r.found, r.Allowance = found, out.Allowance
	moved, needles := r.movedOf(out), out.Needles
	r.noteYielded(out.Yielded)
	if err := r.resolve(ctx, job, crossings, false); err != nil {
		return err
	}
	if !job.NoVerify {
		job.progress("proof", 0.7)
		if err := r.proveAndTopUp(ctx, job, moved); err != nil {
			return err
		}
		r.noteShortfall()
	}
	if err := r.inspect(ctx, job); err != nil {
		return err
	}
	r.noteNeedles(needles)
	r.Findings = append(r.Findings, r.settled...)
	return nil
}

// inspect looks at the final surface: free of crossings where it was cut, kept
// faces where they were, bores and widths.
func (r *Result) inspect(ctx context.Context, job Job) error {
	if err := r.checkClean(ctx, job); err != nil {
		return err
	}
	if err := r.checkKept(ctx); err != nil {
		return err
	}
	return r.sizes(ctx, job)
}

// nothingToAdd tells whether no facet gets any stock.
func (pl *Planned) nothingToAdd() bool {
	return !slices.ContainsFunc(pl.FacetMM, func(mm float64) bool { return mm > 0 })
}

// growNominal moves the nominal surface outwards as far as there is room, and by
// no more than capMM on each facet unless that is nil, with sharp points split or
// whole.
func (r *Result) growNominal(ctx context.Context, job Job, capMM []float64, whole bool) (g growth, err error) {
	if r.nothingToAdd() {
		return g, ErrNothingToAdd
	}
	opt, gaps := r.growing(job, capMM)
	if k := r.takeKnown(); k != nil && capMM == nil {
		opt.Given, gaps = k.given, k.gaps
	}
	opt.Whole, opt.Tree = whole, r.nominalTree(job.Workers)
	g.gaps = gaps
	g.out, err = grow.Grow(ctx, r.Nominal, r.Topo, r.FacetMM, opt)
	return g, err
}

// noteNeedles reports the vertices that no single move serves.
func (r *Result) noteNeedles(ns []grow.Needle) {
	if len(ns) == 0 {
		return
	}
	var worst, lacking grow.Needle
	short := 0
	for _, n := range ns {
		if n.MissingMM > worst.MissingMM {
			worst = n
		}
		if !n.Split {
			short++
			if n.MissingMM > lacking.MissingMM {
				lacking = n
			}
		}
	}
	f := finding.Finding{
		Code: "needle", Severity: finding.Info, At: &worst.At, SizeMM: worst.MissingMM, Count: len(ns),
		Message: fmt.Sprintf("%d points are too sharp for a mitre: they are chamfered, %d facets were added", len(ns), r.split),
		Remedy:  "round the part there if the chamfers are unwelcome",
	}
	if r.shape == nil {
		f.Message = fmt.Sprintf("%d points are too sharp for the mitre limit; the facets around them are not short of stock for it", len(ns))
		f.Remedy = "nothing; look at the place in the pictures"
	}
	if short > 0 && (r.Proof == nil || !r.Proof.Within()) {
		f.Severity, f.At, f.SizeMM, f.Count = finding.Warning, &lacking.At, lacking.MissingMM, short
		f.Message = fmt.Sprintf("%d points are too sharp to carry full stock; at the worst one %.1f um of %.1f um are missing", short, lacking.MissingMM*umPerMM, lacking.AskedMM*umPerMM)
		f.Remedy = "round the part there, or raise mitre_limit in the recipe"
	}
	r.Findings = append(r.Findings, f)
}

// take takes the moved vertices for the grown surface, rounded to what is written.
func (r *Result) take(moved []r3.Vector, workers int) {
	v := mesh.Rounded(moved)
	r.Rebuilt, r.cut, r.settled, r.number, r.untested = 0, false, nil, nil, nil
	if r.shape != nil {
		r.takeBevelled(v, workers)
		return
	}
	r.Grown, r.NominalOf = r.Nominal.WithVertices(v), nil
	r.follow(func() *bvh.Tree { return r.Planned.nominalTree(workers).Moved(r.Grown, workers) }, workers)
}

// follow makes the tree that of Grown: the present one where it has the same
// facets, which other states of the same facets then find moved too; else a new one.
func (r *Result) follow(anew func() *bvh.Tree, workers int) {
	if r.tree == nil || !r.tree.Fits(r.Grown) {
		r.tree = anew()
		return
	}
	r.tree.Follow(r.Grown, workers)
}

// settle takes the moved vertices for the grown surface, rounds them to what is
// written, and makes the surface free of crossings; back is as in resolve.
func (r *Result) settle(ctx context.Context, job Job, moved []r3.Vector, back bool) error {
	r.take(moved, job.Workers)
	c, err := r.tree.SelfCrossings(ctx, bvh.CrossingOptions{Workers: job.Workers})
	if err != nil {
		return err
	}
	return r.resolve(ctx, job, c, back)
}

func facetCentre(m *mesh.Mesh, f int) r3.Vector {
	a, b, c := m.Triangle(f)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// noteShortfall reports the places that carry less stock than called for, each
// with its depth; what grow has reported as a needle is counted there again,
// since the proof does not ask why.
func (r *Result) noteShortfall() {
	most := r.mostAllowance()
	for _, p := range r.Proof.ShortfallPlaces {
		at, seen, remedy := p.At, "", "give the place more room or round it, or accept the undersize"
		if p.Shortfall > 2*most { // the surface lies further inside the part than it should be outside
			remedy = foreignRemedy
		}
		if p.FromGrown {
			seen = "seen from the grown surface, "
		}
		r.Findings = append(r.Findings, finding.Finding{
			Code: "stock_missing", Severity: missingSeverity(p.Shortfall), At: &at, SizeMM: p.Shortfall, Count: p.Facets,
			Message: fmt.Sprintf("%s%.1f um of stock are missing over %.3g mm2: the place would finish undersize by that much", seen, p.Shortfall*umPerMM, p.Area),
			Remedy:  remedy,
		})
	}
	if n := len(r.Proof.ShortfallPlaces); r.Proof.PlaceCount > n {
		more, least := r.Proof.PlaceCount-n, r.Proof.ShortfallPlaces[n-1].Shortfall
		r.Findings = append(r.Findings, finding.Finding{
			Code: "stock_missing", Severity: missingSeverity(least), SizeMM: least, Count: more,
			Message: fmt.Sprintf("%d more places are short of stock, none by more than %.1f um", more, least*umPerMM),
		})
	}
}

// Shortfall at which a place is an error: above what a polishing allowance may
// be off by, 20 um a face, which is about IT8 on 50 mm (references.md section 9).
const missingErrorMM = 0.02

func missingSeverity(mm float64) finding.Severity {
	if mm > missingErrorMM {
		return finding.Error
	}
	return finding.Warning
}

// Given is how much stock a skin got, mm.
type Given struct {
	Least, Mean, Most float64 // the mean by area
	Facets            int     // none when the part has no such skin
}

// SkinAllowances returns the allowance of each skin after the slope rule, keep zones left out.
func (r *Result) SkinAllowances() (given [len(region.Skins)]Given) {
	var area [len(region.Skins)]float64
	for f, s := range r.Sorting.Skin {
		if r.kept(f) {
			continue
		}
		a, c, g := r.Nominal.FacetArea(f), &r.Allowance[f], &given[s]
		if g.Facets == 0 {
			g.Least = math.Inf(1)
		}
		g.Facets++
		area[s] += a
		g.Mean += a * (c[0] + c[1] + c[2]) / 3
		g.Least = min(g.Least, c[0], c[1], c[2])
		g.Most = max(g.Most, c[0], c[1], c[2])
	}
	for s := range given {
		if area[s] > 0 {
			given[s].Mean /= area[s]
		}
	}
	return given
}
