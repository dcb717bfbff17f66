package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"skinstock/mesh"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/region/screen"
	"skinstock/report"
)

const umPerMM = 1000

func (a *app) screenCommand() *cobra.Command {
	var p partFlags
	var purpose string
	cmd := &cobra.Command{
		Use:   "screen PART.stl",
		Short: "Say whether the bath can treat the part: findings and a verdict",
		Long: `screen measures what decides whether a bath can treat the part: round bores and
channels and how far the bath gets into them, sharp edges and inside corners,
thin walls, gaps that close, and closed cavities. It ends in a verdict with its
reasons, weightiest first, and what to change. Slots, pockets that hold gas or
liquid, the fit into the bath and places for the clamp are not judged. The
limits come from the recipe; no standard's limit is claimed. No geometry is written.`,
		Example: `  skinstock screen bracket.stl
  skinstock screen manifold.stl --purpose flow --json screen.json`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkFailOn(p.failOn); err != nil {
				return err
			}
			use, err := screen.ParsePurpose(purpose)
			if err != nil {
				return usage(fmt.Errorf("--purpose: %w", err))
			}
			pl, _, err := a.planPart(cmd.Context(), args[0], &p)
			if err != nil {
				return err
			}
			opt := screenOptions(pl)
			opt.Purpose, opt.Known, opt.Workers = use, pl.Findings, a.workers
			rep, err := screen.Screen(cmd.Context(), pl.Nominal, pl.Topo, nil, opt)
			if err != nil {
				return jobError(pl.Part.Name, err)
			}
			doc := report.ComposePlan("screen", version(), pl)
			doc.AddScreening(pl.Findings, rep)
			return a.deliver(cmd.Context(), doc, &p, args)
		},
	}
	p.add(cmd)
	names := make([]string, len(screen.Purposes))
	for i, n := range screen.Purposes {
		names[i] = string(n)
	}
	cmd.Flags().StringVar(&purpose, "purpose", "", "what the part is polished for, to weigh the findings: `"+strings.Join(names, "|")+"`")
	completes(cmd, "purpose", names...)
	return cmd
}

// screenOptions hands the plan's figures and the recipe's limits to the screening.
func screenOptions(pl *offset.Planned) screen.Options {
	opt := screen.Options{
		BathUp:      pl.BuildDir, // the part hangs as it was built
		Limits:      screenLimits(pl.Plan.Recipe),
		AllowanceMM: make(mesh.CornerField, len(pl.Nominal.Facets)),
		TakenMM:     make(mesh.CornerField, len(pl.Nominal.Facets)),
	}
	for f := range pl.Nominal.Facets {
		v := pl.FacetMM[f]
		opt.AllowanceMM[f] = [3]float64{v, v, v}
		v = pl.Place(f).TakenUM / umPerMM
		opt.TakenMM[f] = [3]float64{v, v, v}
	}
	return opt
}

func screenLimits(r *recipe.Recipe) screen.Limits {
	s := r.Screen
	return screen.Limits{
		BoreReachDiameters:    s.BoreReachDiameters.Value,
		BoreMarginalDiameters: s.BoreMarginalDiameters.Value,
		ThroughFactor:         s.ThroughFactor.Value,
		MinBoreMM:             s.MinBoreMM.Value,
		ShieldedFail:          s.ShieldedFail.Value,
		PolarisationMM:        r.Bath.PolarisationMM.Value,
		MinWallBuiltMM:        s.MinWallBuiltMM.Value,
		MinWallAfterMM:        s.MinWallAfterMM.Value,
		MinGapMM:              r.Geometry.MinGapMM.Value,
		EdgeRadiusFactor:      s.EdgeRadiusFactor.Value,
		TipRadiusFactor:       s.TipRadiusFactor.Value,
	}
}
