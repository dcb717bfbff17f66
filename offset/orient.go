package offset

import (
	"context"
	"errors"
	"fmt"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh/finding"
	"skinstock/mesh/part"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
	"skinstock/region/orient"
)

// Orient ranks the build directions of a part by what the process makes of
// them. The planned part that it returns has no skins, plan or allowances; its
// Chosen holds the ranking, its BuildDir the best direction. The job's build
// direction is scored beside the others.
func Orient(ctx context.Context, p *part.Part, job Job) (*Planned, error) {
	pl, err := begin(ctx, p, job)
	if err != nil {
		return nil, err
	}
	if err := pl.orient(ctx, job); err != nil {
		return nil, err
	}
	return pl, ctx.Err()
}

// orient chooses the build direction.
func (pl *Planned) orient(ctx context.Context, job Job) error {
	g := job.Recipe.Geometry
	opt := orient.Options{
		VerticalFrom:  s1.Angle(g.VerticalFromDeg.Value) * s1.Degree,
		Critical:      s1.Angle(job.Recipe.Screen.SelfSupportingDeg.Value) * s1.Degree,
		MinIslandMM2:  g.MinIslandMM2.Value,
		OnPlatform:    g.OnPlatform,
		PlatformTolMM: g.PlatformTolMM.Value,
		Masked:        pl.masked,
		EnvelopeMM:    pl.envelope(job),
		Directions:    job.Directions,
		Workers:       job.Workers,
		Cost:          DirectionCost(job.Recipe, job.FixedUM),
	}
	if !job.Best && job.BuildDir != (r3.Vector{}) {
		opt.Current = job.BuildDir
	}
	r, err := orient.Rank(ctx, pl.Nominal, pl.Topo, opt)
	if err != nil {
		return fmt.Errorf("ranking build directions: %w", err)
	}
	if why := r.Best[0].Unfit; why != "" {
		return fmt.Errorf("no build direction can be treated: %s", why)
	}
	if !r.Best[0].Fits {
		e := opt.EnvelopeMM
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "build_space_small", Severity: finding.Error, Count: 1, SizeMM: r.Best[0].Tally.HeightMM,
			Message: fmt.Sprintf("the part fits the build space of %.4g x %.4g x %.4g mm in none of the directions tried", e[0], e[1], e[2]),
			Remedy:  "use a larger machine, or divide the part",
		})
	}
	pl.Chosen, pl.BuildDir = r, r.Best[0].Dir
	return nil
}

// envelope is the build space that counts; zero for none.
func (pl *Planned) envelope(job Job) [3]float64 {
	if e := job.Recipe.Print.EnvelopeMM; job.EnvelopeMM == [3]float64{} && len(e) == 3 {
		return [3]float64(e)
	}
	return job.EnvelopeMM
}

// DirectionCost returns what the process makes of a part seen in a build direction:
// bath time, and stock by the allowances before the slope rule.
func DirectionCost(rec *recipe.Recipe, fixedUM map[region.Skin]float64) func(orient.Tally) (orient.Cost, error) {
	byAngle := rec.Roughness.Model != recipe.ModelClasses
	return func(t orient.Tally) (orient.Cost, error) {
		var areas []removal.Area
		if byAngle {
			for _, p := range t.Pieces {
				areas = append(areas, removal.Area{Skin: p.Skin, Theta: p.Mean, From: p.Lo, To: p.Hi, AreaMM2: p.AreaMM2, Faces: 1})
			}
		} else {
			for skin, a := range t.AreaMM2 {
				if a > 0 {
					areas = append(areas, removal.Area{Skin: region.Skin(skin), Theta: flatAngle[skin], AreaMM2: a, Faces: 1})
				}
			}
		}
		plan, err := removal.New(rec, removal.Part{Areas: areas}, removal.Options{FixedUM: fixedUM, Quiet: true})
		if unreached := (*removal.UnreachedError)(nil); errors.As(err, &unreached) || errors.Is(err, removal.ErrOutsideTable) {
			return orient.Cost{}, fmt.Errorf("%w: %w", orient.ErrUnfit, err)
		}
		if err != nil {
			return orient.Cost{}, err
		}
		c := orient.Cost{
			TimeMin: plan.TimeMin, Governs: plan.Governs.String(),
			AddedMM3: plan.Bath.MassAddedG / rec.Material.DensityGPerCM3.Value * 1000,
		}
		if s, ok := plan.Skin(plan.Governs); ok {
			c.RemovalUM = s.CalledForMaxUM
		}
		return c, nil
	}
}

// flatAngle is an angle of each skin for recipes that have one value a skin.
var flatAngle = [len(region.Skins)]s1.Angle{region.Vertical: 90 * s1.Degree, region.Downskin: 180 * s1.Degree, region.Platform: 180 * s1.Degree}
