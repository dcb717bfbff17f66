package offset

import (
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
	"skinstock/mesh/finding"
	"skinstock/mesh/part"
	"skinstock/offset/removal"
	"skinstock/region"
)

// umPerMM converts removal quantities to lengths of geometry.
const umPerMM = 1000

// Plan sorts the part's skins and works out what each calls for and loses.
func Plan(ctx context.Context, p *part.Part, job Job) (*Planned, error) {
	pl, err := begin(ctx, p, job)
	if err != nil {
		return nil, err
	}
	pl.BuildDir = job.BuildDir
	if job.Best {
		job.progress("build direction", 0.08)
		if err := pl.orient(ctx, job); err != nil {
			return nil, err
		}
	}
	job.progress("skins", 0.12)
	if err := pl.classify(job); err != nil {
		return nil, err
	}
	if err := pl.planBath(ctx, job); err != nil {
		return nil, err
	}
	return pl, ctx.Err()
}

// begin unites what overlaps, unless the job goes unchecked, and finds the facets to keep.
func begin(ctx context.Context, p *part.Part, job Job) (*Planned, error) {
	pl := &Planned{Part: p, Nominal: p.Mesh, Topo: p.Topo, Findings: append([]finding.Finding(nil), p.Findings...)}
	job.progress("reading", 0.05)
	if !job.Unchecked {
		if err := pl.unite(ctx, job); err != nil {
			return nil, err
		}
	}
	return pl, pl.keep(job)
}

func (j Job) progress(stage string, share float64) {
	if j.Progress != nil {
		j.Progress(stage, share)
	}
}

// unite replaces a part whose facets cross by the boundary of its metal:
// inside overlaps there is no surface to print or to treat.
func (pl *Planned) unite(ctx context.Context, job Job) error {
	c, err := pl.nominalTree(job.Workers).SelfCrossings(ctx, bvh.CrossingOptions{Workers: job.Workers})
	if err != nil || c.Total == 0 {
		return err
	}
	at := facetCentre(pl.Nominal, int(c.Pairs[0][0]))
	if done, err := pl.clean(ctx, job, c.Total, at); done || err != nil {
		return err
	}
	m, rep, err := arrange.Resolve(ctx, pl.Nominal, arrange.Options{Workers: job.Workers, Suspects: c.Facets()})
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return pl.uniteByDistance(ctx, job, c.Total, &CrossingError{At: at, Err: err})
	}
	pl.Findings = append(pl.Findings, finding.Finding{
		Code: "self_crossing_input", Severity: finding.Warning, At: &at, Count: c.Total,
		Message: fmt.Sprintf("%d pairs of facets of the part cross or touch: its bodies were united, %d facets of %d are new pieces", c.Total, rep.FacetsAdded, len(m.Facets)),
		Remedy:  "unite the bodies in the CAD program if this was not meant",
	})
	pl.Nominal, pl.Topo, pl.tree = m, m.Topology(), nil
	return nil
}

// nominalTree returns the tree of Nominal, built once and kept while the part is worked on.
func (pl *Planned) nominalTree(workers int) *bvh.Tree {
	if pl.tree == nil || pl.tree.Mesh() != pl.Nominal { // it may have been refined since
		pl.tree = bvh.New(pl.Nominal, workers)
		if in := pl.around(); in != nil {
			pl.tree.TakeIncidence(in)
		}
	}
	return pl.tree
}

// TakeTree hands over the tree of Nominal, which is built when there is none:
// Compensate leaves it where the job says so.
func (pl *Planned) TakeTree(workers int) *bvh.Tree {
	t := pl.nominalTree(workers)
	pl.tree = nil
	return t
}

// around returns the corners around every vertex of Nominal, nil where they have not been listed.
func (pl *Planned) around() *mesh.Incidence {
	if pl.Nominal == pl.Part.Mesh {
		return pl.Part.Around
	}
	return nil
}

// measures returns those of Nominal.
func (pl *Planned) measures() mesh.Measures {
	if pl.Nominal == pl.Part.Mesh {
		return pl.Part.Measures()
	}
	return pl.Nominal.Measures()
}

func (pl *Planned) classify(job Job) error {
	if n := pl.BuildDir.Norm(); !(n > 0) || math.IsInf(n, 0) {
		return region.ErrBuildDir
	}
	g := job.Recipe.Geometry
	pl.BuildDir = pl.BuildDir.Normalize()
	s, err := region.Classify(pl.Nominal, pl.Topo, region.Options{
		BuildDir:      pl.BuildDir,
		VerticalFrom:  s1.Angle(g.VerticalFromDeg.Value) * s1.Degree,
		MinIslandMM2:  g.MinIslandMM2.Value,
		OnPlatform:    g.OnPlatform,
		PlatformTolMM: g.PlatformTolMM.Value,
	})
	pl.Sorting = s
	return err
}

// fromBuildDir returns the angle between facet f's normal and the build
// direction, which for facets of no area is taken from a neighbour's inclination.
func (pl *Planned) fromBuildDir(f int) s1.Angle {
	n := pl.Nominal.AreaNormal(f)
	if n.Norm2() == 0 {
		if t := pl.Sorting.Inclination[f]; pl.Sorting.Skin[f] == region.Downskin {
			return 180*s1.Degree - t
		} else {
			return t
		}
	}
	return s1.Angle(math.Atan2(n.Cross(pl.BuildDir).Norm(), n.Dot(pl.BuildDir)))
}

func (pl *Planned) planBath(ctx context.Context, job Job) error {
	var exposure map[region.Skin]removal.Factor
	if job.Field != FieldNone {
		var err error
		if exposure, err = pl.expose(ctx, job); err != nil {
			return err
		}
	}
	plan, err := pl.newPlan(job, exposure)
	if err != nil {
		return err
	}
	pl.Plan = plan
	pl.Findings = append(pl.Findings, plan.Findings...)

	pl.FacetMM = make([]float64, len(pl.Nominal.Facets))
	var flat [len(region.Skins)]float64
	for _, s := range plan.Skins {
		flat[s.Skin] = plan.At(s.Skin, 0).AllowanceUM / umPerMM
	}
	byPlace := plan.Continuous() || pl.Exposed != nil
	mesh.InChunks(len(pl.FacetMM), job.Workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			switch {
			case pl.Masked(f):
			case byPlace:
				pl.FacetMM[f] = pl.facetPlace(f, pl.fromBuildDir(f)).AllowanceUM / umPerMM
			default:
				pl.FacetMM[f] = flat[pl.Sorting.Skin[f]]
			}
		}
	})
	pl.applyZones(job)
	return nil
}

// planBlock is how many facets newPlan looks at before it adds them up.
const planBlock = 8 * mesh.Chunk

// newPlan works out what each skin calls for and loses under the local factors
// given, nil for an even bath.
func (pl *Planned) newPlan(job Job, exposure map[region.Skin]removal.Factor) (*removal.Plan, error) {
	var h removal.Histogram
	faces := make([]struct {
		theta s1.Angle
		area  float64
	}, min(planBlock, len(pl.Nominal.Facets)))
	for first := 0; first < len(pl.Nominal.Facets); first += planBlock {
		faces = faces[:min(planBlock, len(pl.Nominal.Facets)-first)]
		mesh.InChunks(len(faces), job.Workers, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				n := pl.Nominal.AreaNormal(first + i)
				faces[i].theta, faces[i].area = pl.Sorting.Inclination[first+i], 0.5*n.Norm()
				switch {
				case pl.Sorting.Flat > 0: // their inclination is lent
					faces[i].theta = pl.fromBuildDir(first + i)
				case n.Dot(pl.BuildDir) < 0:
					faces[i].theta = math.Pi - faces[i].theta
				}
			}
		})
		for i, f := range faces {
			if !pl.Masked(first + i) { // not wetted: no area, no current, no mass
				h.Add(pl.Sorting.Skin[first+i], f.theta, f.area)
			}
		}
	}
	whole := pl.measures()
	d := whole.Hi.Sub(whole.Lo)
	return removal.New(job.Recipe, removal.Part{Areas: h.Areas(), SizeMM: [3]float64{d.X, d.Y, d.Z}, VolumeMM3: whole.VolumeMM3},
		removal.Options{FixedUM: job.FixedUM, Exposure: exposure, Roughness: job.Roughness})
}
