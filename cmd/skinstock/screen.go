package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/region"
	"skinstock/region/screen"
	"skinstock/report"
	"skinstock/report/sheet"
)

const umPerMM = 1000

func (a *app) screenCommand() *cobra.Command {
	var p partFlags
	var purpose, hang, dir string
	cmd := &cobra.Command{
		Use:   "screen PART.stl",
		Short: "Say whether the bath can treat the part: findings and a verdict",
		Long: `screen measures what decides whether a bath can treat the part: bores, threads,
slots and winding passages and how far the bath gets into them, sharp edges and
inside corners, thin walls and struts, gaps that close, closed cavities, pockets
that hold gas or liquid, the fit into the bath and places for the contact. It
ends in a verdict with its reasons, weightiest first, and what to change. The
limits come from the recipe; no standard's limit is claimed. No geometry is written.

` + keepHelp,
		Example: `  skinstock screen bracket.stl --report out
  skinstock screen manifold.stl --purpose flow --hang best --json screen.json`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkFailOn(p.failOn); err != nil {
				return err
			}
			use, err := screen.ParsePurpose(purpose)
			if err != nil {
				return usage(fmt.Errorf("--purpose: %w", err))
			}
			up, err := parseHang(hang)
			if err != nil {
				return badFlag("hang", err)
			}
			if dir != "" {
				if err := checkFolder(dir, screenFiles[:], p.force, args[0]); err != nil {
					return err
				}
			}
			pl, _, err := a.planPart(cmd.Context(), args[0], &p)
			if err != nil {
				return err
			}
			opt := screenOptions(pl)
			if up != (r3.Vector{}) {
				opt.BathUp = up
			}
			planned := notOf(pl.Findings, "too_large") // judged anew, for how the part hangs
			opt.SearchHanging, opt.Purpose, opt.Known, opt.Workers = hang == hangBest, use, planned, a.workers
			rep, err := screen.Screen(cmd.Context(), pl.Nominal, pl.Topo, nil, opt)
			if err != nil {
				return jobError(pl.Part.Name, err)
			}
			doc := report.ComposePlan("screen", version(), pl)
			doc.AddScreening(planned, rep, grownMassG(pl), notJudged(pl))
			if dir != "" {
				if err := a.screenReport(cmd.Context(), dir, pl, doc, p.force, args[0]); err != nil {
					return err
				}
			}
			return a.deliver(cmd.Context(), doc, &p, args)
		},
	}
	p.add(cmd)
	names := make([]string, len(screen.Purposes))
	for i, n := range screen.Purposes {
		names[i] = string(n)
	}
	cmd.Flags().StringVar(&hang, "hang", hangBuild, "upwards in the bath: build for the build direction, best for the direction that holds back least gas and liquid, or a `direction` x,y,z")
	cmd.Flags().StringVar(&dir, "report", "", "folder `DIR` for pictures with numbered findings, the page and a copy of the JSON")
	cmd.Flags().StringVar(&purpose, "purpose", "", "`what` the part is polished for, to weigh the findings: "+strings.Join(names, ", "))
	completes(cmd, "purpose", names...)
	return cmd
}

// Words for --hang.
const (
	hangBuild = "build"
	hangBest  = "best"
)

// parseHang reads the direction upwards in the bath; zero stands for the build direction.
func parseHang(s string) (r3.Vector, error) {
	if s == hangBuild || s == hangBest {
		return r3.Vector{}, nil
	}
	v, err := parseDir(s)
	if err != nil {
		return v, fmt.Errorf("%w; or say build or best", err)
	}
	return v, nil
}

// notOf leaves the findings of one code out.
func notOf(fs []finding.Finding, code string) []finding.Finding {
	var out []finding.Finding
	for _, f := range fs {
		if f.Code != code {
			out = append(out, f)
		}
	}
	return out
}

// grownMassG is the mass that hangs in the bath at first.
func grownMassG(pl *offset.Planned) float64 {
	return pl.Nominal.Volume()*1e-3*pl.Plan.Recipe.Material.DensityGPerCM3.Value + pl.Plan.Bath.MassAddedG
}

// notJudged lists what the recipe or the run leaves open.
func notJudged(pl *offset.Planned) []string {
	var out []string
	b := pl.Plan.Recipe.Bath
	if len(b.EnvelopeMM) != 3 {
		out = append(out, "fit into the bath: the recipe gives no envelope_mm")
	}
	if !pl.Plan.Bath.HasCurrent || !b.MaxCurrentA.Given() {
		out = append(out, "wetted area against the rectifier: the recipe gives no current density or no max_current_a")
	}
	if pl.Kept == nil {
		out = append(out, "faces with a function: no keep zones given, so the contact may be proposed on one")
	}
	if pl.Exposed == nil {
		out = append(out, "current at the contact: no field run (--field fast)")
	}
	return append(out, "strength of the hanger against the part's mass")
}

// screenFiles are the files of a screening's report folder.
var screenFiles = [...]string{"sheet.png", "report.html", "report.json"}

// screenReport writes pictures with numbered findings, the page and a copy of the JSON.
func (a *app) screenReport(ctx context.Context, dir string, pl *offset.Planned, doc *report.Document, force bool, name string) error {
	stage, err := sheet.NewStage(ctx, report.ScreenInput(pl, doc), a.workers)
	if err != nil {
		return badOutput(err)
	}
	page := report.ScreenPage(pl, doc)
	if err := page.AddViews(ctx, stage); err != nil {
		return pictureError(err)
	}
	img, err := stage.Sheet(ctx, sheet.Options{Layers: []sheet.Layer{sheet.Skins}, Tight: true})
	if err != nil {
		return pictureError(err)
	}
	to := files{out: a.con.Out, force: force, inputs: []string{name}}
	if err := to.folder(dir); err != nil {
		return badOutput(err)
	}
	fills := [len(screenFiles)]func(io.Writer) error{func(w io.Writer) error { return sheet.WritePNG(w, img) }, page.Write, doc.WriteJSON}
	for i, fill := range fills {
		if err := to.write(ctx, filepath.Join(dir, screenFiles[i]), fill); err != nil {
			return outputError(err)
		}
	}
	return nil
}

// screenOptions hands the plan's figures and the recipe's limits to the screening.
func screenOptions(pl *offset.Planned) screen.Options {
	opt := screen.Options{
		BathUp:      pl.BuildDir, // the part hangs as it was built
		Limits:      screenLimits(pl.Plan.Recipe),
		AllowanceMM: make(mesh.CornerField, len(pl.Nominal.Facets)),
		TakenMM:     make(mesh.CornerField, len(pl.Nominal.Facets)),
	}
	if b := pl.Plan.Recipe.Bath; len(b.EnvelopeMM) == 3 {
		opt.Bath = screen.Bath{SizeMM: [3]float64(b.EnvelopeMM), ClearanceMM: b.ClearanceMM.Value}
	}
	if pl.Kept != nil {
		opt.Kept = make([]bool, len(pl.Nominal.Facets))
		for f, z := range pl.Kept.Zone {
			opt.Kept[f] = z != region.NoZone
		}
	}
	if pl.Exposed != nil {
		opt.Exposure = pl.Exposed.Field.PerFacet
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
		ContactMM:             s.ContactMM.Value,
		Origins: screen.Origins{
			MinWallBuilt: string(s.MinWallBuiltMM.Source),
			MinWallAfter: string(s.MinWallAfterMM.Source),
			MinGap:       string(r.Geometry.MinGapMM.Source),
			EdgeRadius:   string(weakest(s.EdgeRadiusFactor, s.TipRadiusFactor)),
			Contact:      string(s.ContactMM.Source),
		},
	}
}

// weakest returns assumed where one of the numbers is, else the source of the first.
func weakest(qs ...recipe.Quantity) recipe.Source {
	for _, q := range qs {
		if q.Source == recipe.Assumed {
			return recipe.Assumed
		}
	}
	return qs[0].Source
}
